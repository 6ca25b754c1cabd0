#include "model/readers/obj_libraries.hpp"

#include <algorithm>
#include <limits>
#include <optional>
#include <utility>

#include "model/readers/text_scan.hpp"
#include "model/readers/texture_files.hpp"

namespace rakelight {
namespace {

namespace fs = std::filesystem;

using Names = std::vector<std::string>;

Names words_of(const std::string& line) {
    Names words;
    for (std::size_t at = 0; (at = line.find_first_not_of(" \t", at)) != std::string::npos;) {
        const std::size_t end = std::min(line.find_first_of(" \t", at), line.size());
        words.push_back(line.substr(at, end - at));
        at = end;
    }
    return words;
}

/// The names of a line where each ends in ".mtl"; they may have blanks in them.
Names ended_names(const std::string& line) {
    Names names;
    std::string name;
    for (const std::string& word : words_of(line)) {
        name += (name.empty() ? "" : " ") + word;
        if (lower(word).ends_with(".mtl")) names.push_back(std::exchange(name, {}));
    }
    return name.empty() ? names : Names();
}

}  // namespace

ObjLibraries::ObjLibraries(fs::path model, RecordingIo& io)
    : model_(fs::absolute(model)), io_(&io) {}

// The specification's mtllib takes several names, of which the first goes before the others.
std::string ObjLibraries::take(std::string_view names) {
    const std::string line(names);
    const auto [known, is_new] = taken_.try_emplace(line);
    if (!is_new) return known->second;
    std::string materials;
    const bool found = take_exact(line, materials) || take_each(ended_names(line), materials) ||
                       take_one(line, materials) || take_each(words_of(line), materials) ||
                       take_stand_in(materials);
    if (!found && !line.empty()) io_->note_missing(line);
    known->second = materials;
    return materials;
}

bool ObjLibraries::take_exact(const std::string& name, std::string& materials) {
    const fs::path library = (model_.parent_path() / name).lexically_normal();
    std::error_code fault;
    if (name.empty() || !io_->Exists(library.c_str()) || !fs::is_regular_file(library, fault))
        return false;
    materials += read(library);
    return true;
}

bool ObjLibraries::take_one(const std::string& name, std::string& materials) {
    // A search looks through folders; a file of nothing but such names is not worth many.
    constexpr int most_searches = 200;
    if (name.empty()) return false;
    if (++searches_ > most_searches) return take_exact(name, materials);
    const std::optional<fs::path> library = find_beside(name, model_, *io_);
    if (library) materials += read(*library);
    return library.has_value();
}

bool ObjLibraries::take_each(const Names& names, std::string& materials) {
    constexpr std::size_t most_names = 100;  // in a line
    if (names.size() < 2 || names.size() > most_names) return false;
    Names missing;
    for (const std::string& name : names)
        if (!take_one(name, materials)) missing.push_back(name);
    if (missing.size() == names.size()) return false;
    for (const std::string& name : missing) io_->note_missing(name);
    return true;
}

bool ObjLibraries::take_stand_in(std::string& materials) {
    fs::path library = model_;
    library.replace_extension("mtl");
    if (!io_->Exists(library.c_str())) return false;
    materials += read(library);
    return true;
}

const std::string& ObjLibraries::read(const fs::path& library) {
    const auto [known, is_new] = read_.try_emplace(library);
    if (!is_new) return known->second;
    const std::string text = io_->start_of(library, std::numeric_limits<std::size_t>::max());
    const fs::path relative = library.lexically_relative(model_.parent_path());
    const std::string folder = (relative.empty() ? library : relative).parent_path().string();
    for (MtlMaterial& material : read_mtl(text)) {
        known->second += "newmtl " + material.name + "\n";
        for (auto slot : {&MtlMaterial::normal, &MtlMaterial::bump, &MtlMaterial::displacement,
                          &MtlMaterial::cut_out})
            if (material.*slot) (material.*slot)->folder = folder;
        materials_.try_emplace(material.name, material);
    }
    return known->second;
}

const MtlMaterial* ObjLibraries::find(const std::string& material) const {
    const auto found = materials_.find(material);
    return found == materials_.end() ? nullptr : &found->second;
}

bool ObjLibraries::has_maps() const {
    for (const auto& [name, material] : materials_)
        if (material.has_maps()) return true;
    return false;
}

}  // namespace rakelight
