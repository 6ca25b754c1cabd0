#include "batch/depfile.hpp"

#include <algorithm>
#include <set>
#include <string_view>

#include "error.hpp"

namespace rakelight {
namespace fs = std::filesystem;
namespace {

[[noreturn]] void refuse(const fs::path& path, const std::string& why) {
    throw Error(ExitCode::wrong_use, "found " + why + " in the name '" + path.string() +
                                         "', which no dependency file can hold so that Make and "
                                         "Ninja both read it; expected another name for this file "
                                         "or its folder");
}

bool is_plain(char c) {
    // Of those that Ninja 1.11 takes (its depfile_parser), without Make's wildcards.
    constexpr std::string_view marks = "+,/_.~(){}%=@!-";
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
           static_cast<unsigned char>(c) >= 0x80 || marks.find(c) != std::string_view::npos;
}

// What no escape helps with, by where it stands.
void check_name(const fs::path& path) {
    const std::string name = path.string();
    if (name.front() == '~') refuse(path, "\"~\" at the begin");  // Make: somebody's home
    if (name.back() == '\\') refuse(path, "\"\\\" at the end");   // would escape what follows
    const bool member = name.back() == ')' && name.find('(') != std::string::npos;
    if (member) refuse(path, "\"(\" before a \")\" at the end");  // Make: a member of an archive
}

std::string escaped(const fs::path& path) {
    check_name(path);
    const std::string name = path.string();
    std::string text;
    for (std::size_t i = 0; i < name.size(); ++i) {
        const char c = name[i];
        // Make halves backslashes before these, and Ninja does not, or not always.
        const bool special = c == ' ' || c == '#' || c == ':';
        if (special && i > 0 && name[i - 1] == '\\') refuse(path, std::string("\"\\") + c + "\"");
        if (special) {
            text += '\\';
        } else if (c == '$') {
            text += '$';
        } else if (c != '\\' && !is_plain(c)) {
            const bool shown = static_cast<unsigned char>(c) > 0x20 && c != 0x7F;
            refuse(path, shown ? std::string("\"") + c + "\"" : "a control character");
        }
        text += c;
    }
    return text;
}

// As a target these are a pattern or a variable to Make.
bool is_special_target(const std::string& name) {
    return name.find_first_of("%=") != std::string::npos;
}

std::string escaped_target(const fs::path& path) {
    std::string text = escaped(path);
    if (is_special_target(text)) refuse(path, "\"%\" or \"=\"");
    return text;
}

/// What the relief is mixed from: the recipe's own file, and pictures.
std::vector<fs::path> recipe_files(const Scene& scene) {
    std::vector<fs::path> files;
    if (!scene.relief) return files;
    if (scene.relief->recipe_file) files.push_back(*scene.relief->recipe_file);
    for (const NamedSource& source : scene.relief->sources) {
        if (const auto* image = std::get_if<ImageSource>(&source.what))
            files.push_back(image->file);
    }
    return files;
}

}  // namespace

fs::path spelled_as(const fs::path& scene_file, const fs::path& path) {
    if (scene_file.is_absolute()) return path.lexically_normal();
    return path.lexically_normal().lexically_relative(fs::current_path());
}

std::vector<fs::path> input_files(const Scene& scene, const Mesh& mesh,
                                  const fs::path& scene_file) {
    const fs::path& model = scene.model.file;
    const bool absolute = fs::path(scene.model.file_as_written).is_absolute();
    const auto spelled = [&](const fs::path& path) {
        return absolute ? path.lexically_normal() : spelled_as(scene_file, path);
    };
    std::vector<fs::path> files{scene_file.lexically_normal(), spelled(model)};
    for (const fs::path& side : mesh.side_files())
        files.push_back(side.is_absolute() ? side.lexically_normal()
                                           : spelled(model.parent_path() / side));
    for (const fs::path& file : recipe_files(scene)) files.push_back(spelled_as(scene_file, file));
    return files;
}

std::string depfile_text(const std::vector<MadeOf>& rules) {
    std::string text;
    std::set<fs::path> targets;
    std::set<fs::path> inputs;
    for (const MadeOf& rule : rules) {
        text += escaped_target(rule.target) + ":";
        for (const fs::path& input : rule.inputs) text += " \\\n  " + escaped(input);
        text += "\n";
        targets.insert(rule.target);
        inputs.insert(rule.inputs.begin(), rule.inputs.end());
    }
    for (const fs::path& input : inputs) {
        const std::string name = escaped(input);
        if (!targets.contains(input) && !is_special_target(name)) text += "\n" + name + ":\n";
    }
    return text;
}

}  // namespace rakelight
