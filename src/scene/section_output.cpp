// [output]: where the files go, and what they are called.

#include <array>
#include <optional>

#include "scene/sections.hpp"
#include "scene/words.hpp"

namespace rakelight::scene_file {

namespace {

constexpr std::array<std::string_view, 2> fields{"scene", "pass"};

struct FileFault {
    std::string found;
    std::string hint;
};

FileFault unknown_field(std::string_view field) {
    const auto near = nearest(field, fields);
    return {"the field " + shown("{" + std::string(field) + "}"),
            near ? "Did you mean {" + std::string(*near) + "}?" : ""};
}

// The fields one after the other, and what stands between them.
std::optional<FileFault> field_fault(std::string_view text) {
    bool has_pass = false;
    for (std::size_t at = 0; at < text.size(); ++at) {
        if (text[at] == '}') return FileFault{"a \"}\" without its \"{\"", ""};
        if (text[at] != '{') continue;
        const std::size_t end = text.find('}', at);
        if (end == std::string_view::npos) return FileFault{"a \"{\" without its \"}\"", ""};
        const std::string_view field = text.substr(at + 1, end - at - 1);
        if (field != fields[0] && field != fields[1]) return unknown_field(field);
        has_pass = has_pass || field == "pass";
        at = end;
    }
    if (has_pass) return std::nullopt;
    return FileFault{shown(text) + ", by which all passes would have one name", ""};
}

std::optional<FileFault> file_fault(std::string_view text) {
    if (text.find('/') != std::string_view::npos)
        return FileFault{shown(text) + ", which leads out of the folder or into another one",
                         "Where the folder lies is said by folder."};
    if (text.front() == '.') return FileFault{shown(text) + ", which would hide the files", ""};
    return field_fault(text);
}

}  // namespace

OutputSettings read_output(TableReader table, Report& report, const std::filesystem::path& folder) {
    OutputSettings output;
    std::string folder_as_written;
    const Found found = table.text("folder", folder_as_written);
    const Found files = table.text("files", output.files);
    table.finish();
    if (found.sound()) output.folder = resolved(folder_as_written, folder);
    if (!files.sound()) return output;
    if (const auto fault = file_fault(output.files))
        misfit(
            report, {&files}, fault->found,
            "a file's name without its ending, with {pass} in it and {scene} where wanted, as in "
            "files = \"{scene}-{pass}\"",
            fault->hint);
    return output;
}

}  // namespace rakelight::scene_file

namespace rakelight {

std::string output_name(const Scene& scene, std::string_view pass, std::string_view ending) {
    const std::string& text = scene.output_files;
    std::string name;
    for (std::size_t at = 0; at < text.size(); ++at) {
        if (text[at] != '{') {
            name += text[at];
            continue;
        }
        name += text.compare(at, 6, "{pass}") == 0 ? pass : std::string_view(scene.name);
        at = text.find('}', at);
    }
    return name.append(ending);
}

}  // namespace rakelight
