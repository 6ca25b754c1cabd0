// Parts of a model by the patterns of their names and materials.

#include <algorithm>
#include <set>
#include <string_view>

#include "error.hpp"
#include "framing/frame.hpp"
#include "scene/words.hpp"

namespace rakelight {
namespace {

// Past one letter of UTF-8, which may have several bytes.
std::size_t next_letter(const std::string& text, std::size_t i) {
    ++i;
    while (i < text.size() && (static_cast<unsigned char>(text[i]) & 0xC0) == 0x80) ++i;
    return i;
}

// `*` stands for any run of letters, `?` for one. After a mismatch only the last star needs another
// try, so that no pattern takes longer than both lengths multiplied.
bool matches(const std::string& pattern, const std::string& name) {
    std::size_t p = 0;
    std::size_t star = std::string::npos;
    std::size_t star_name = 0;
    for (std::size_t n = 0; n < name.size();) {
        const bool more = p < pattern.size();
        if (more && pattern[p] == '*') {
            star = p++;
            star_name = n;
        } else if (more && (pattern[p] == '?' || pattern[p] == name[n])) {
            n = pattern[p] == '?' ? next_letter(name, n) : n + 1;
            ++p;
        } else if (star != std::string::npos) {
            p = star + 1;
            n = ++star_name;
        } else {
            return false;
        }
    }
    return pattern.find_first_not_of('*', p) == std::string::npos;
}

// A pattern that begins with this is one of materials.
constexpr std::string_view material_prefix = "material:";

bool fits(const std::string& pattern, const Part& part) {
    if (!pattern.starts_with(material_prefix)) return matches(pattern, part.name);
    return matches(pattern.substr(material_prefix.size()), part.material);
}

// The first dozen, in quotes.
std::string list_of(const std::vector<std::string>& all) {
    std::string list;
    for (std::size_t i = 0; i < all.size(); ++i) {
        if (i == 12) return list + ", ...";
        list += (i == 0 ? "" : ", ") + scene_file::shown(all[i]);
    }
    return list;
}

// Its parts, and the materials that they have, where there is a choice.
std::string names_of(const Mesh& mesh) {
    std::vector<std::string> names;
    std::vector<std::string> materials;
    for (const auto& part : mesh.parts()) {
        names.push_back(part.name);
        const std::string material = std::string(material_prefix) + part.material;
        const bool known =
            std::find(materials.begin(), materials.end(), material) != materials.end();
        if (!part.material.empty() && !known) materials.push_back(material);
    }
    return list_of(names) + (materials.size() < 2 ? "" : " or " + list_of(materials));
}

}  // namespace

std::vector<std::uint32_t> parts_matching(const std::vector<std::string>& patterns,
                                          const Mesh& mesh, const std::string& key) {
    std::set<std::uint32_t> found;
    for (const auto& pattern : patterns) {
        bool any = false;
        for (std::uint32_t i = 0; i < mesh.parts().size(); ++i) {
            if (!fits(pattern, mesh.parts()[i])) continue;
            found.insert(i);
            any = true;
        }
        if (any) continue;
        const bool of_material = pattern.starts_with(material_prefix);
        throw Error(ExitCode::bad_scene,
                    key + ": found " + scene_file::shown(pattern) + ", which is the " +
                        (of_material ? "material" : "name") + " of no part; expected one of " +
                        names_of(mesh) + " (`rakelight inspect` lists them)");
    }
    return {found.begin(), found.end()};
}

std::vector<bool> used_parts(const ModelSettings& settings, const Mesh& mesh) {
    std::vector<bool> used(mesh.parts().size(), settings.use.empty());
    for (const auto part : parts_matching(settings.use, mesh, "[model] use")) used[part] = true;
    for (const auto part : parts_matching(settings.skip, mesh, "[model] skip")) used[part] = false;
    if (std::find(used.begin(), used.end(), true) != used.end()) return used;
    throw Error(ExitCode::bad_scene, "[model] use and skip leave no part of " +
                                         settings.file_as_written + "; expected at least one of " +
                                         names_of(mesh));
}

}  // namespace rakelight
