#include "scene/scene.hpp"

#include <cerrno>
#include <fstream>
#include <system_error>

#include "error.hpp"
#include "scene/overrides.hpp"
#include "scene/scan.hpp"
#include "scene/sections.hpp"
#include "scene/toml_text.hpp"

namespace rakelight {

namespace {

using namespace scene_file;

/// A scene file is typed by hand; what is larger is some other file.
constexpr std::size_t most_scene_bytes = 1 << 20;

[[noreturn]] void throw_bad_file(const std::filesystem::path& path, const std::string& found,
                                 const std::string& hint = "") {
    throw Error(ExitCode::bad_scene, path.string() + ": found " + found +
                                         "; expected a scene file" +
                                         (hint.empty() ? "" : ". " + hint));
}

std::string file_text(const std::filesystem::path& path) {
    std::error_code ignored;
    if (std::filesystem::is_directory(path, ignored)) throw_bad_file(path, "a folder");
    errno = 0;
    std::ifstream file(path, std::ios::binary);
    // Read, not measured: pipes have no size. One byte too many is enough to refuse it.
    std::string text(most_scene_bytes + 1, '\0');
    if (file) file.read(text.data(), static_cast<std::streamsize>(text.size()));
    if (!file.is_open() || file.bad()) {
        const std::string why = errno ? std::generic_category().message(errno) : "read error";
        throw_bad_file(path, "a file that cannot be read (" + why + ")");
    }
    text.resize(static_cast<std::size_t>(file.gcount()));
    return text;
}

std::filesystem::path made_absolute(const std::filesystem::path& path) {
    std::error_code fault;
    const std::filesystem::path whole = std::filesystem::absolute(path, fault);
    return (fault ? path : whole).lexically_normal();
}

/// A table that every scene has. Its lack is known at the end of the file, after all other faults.
void need_table(Report& report, const TableReader& table, const std::string& text,
                const std::string& hint) {
    const Found self = table.self();
    if (!self.absent()) return;
    const Place end = place_of(text, text.size());
    report.add({end, self.key.table_label(), "no such table", "one in every scene", hint});
}

Table read_tree(const std::string& text, const std::filesystem::path& path,
                const std::vector<Override>& overrides, Report& report) {
    if (text.size() > most_scene_bytes) throw_bad_file(path, "more than 1 MiB");
    Table root = parse_toml(text, -1, report);
    if (root.empty()) {
        throw_bad_file(path, "an empty file", "rakelight draft MODEL writes a first one.");
    }
    // Before the overrides: one key of a pass must not take all other passes away.
    if (!find(root, "pass")) root.push_back({"pass", {}, {default_passes(), {}}});
    apply_overrides(root, overrides, report);
    return root;
}

void read_sections(TableReader& root, Report& report, const std::string& text, Scene& scene) {
    const std::filesystem::path folder = scene.path.parent_path();
    BlankKeys keys;
    const TableReader blank = root.table("blank");
    const TableReader model = root.table("model");
    need_table(report, blank, text, "Add [blank] with shape = \"round\" and width_mm = 38.0.");
    need_table(report, model, text, "Add [model] with file = \"...\".");
    scene.blank = read_blank(blank, report, keys);
    scene.model = read_model(model, report, folder);
    scene.pose = read_pose(root.table("pose"), report);
    scene.framing = read_framing(root.table("framing"), report, scene.blank, keys);
    scene.poses = read_poses(root.table("poses"), report, scene.pose, scene.framing);
    scene.image = read_image(root.table("image"), report, scene.blank, keys);
    scene.passes = read_passes(root.table("pass"), report);
    scene.relief = read_relief(root.table("relief"), report);
    OutputSettings output = read_output(root.table("output"), report, folder);
    scene.output_folder = std::move(output.folder);
    scene.output_files = std::move(output.files);
    scene.locked = read_locked(root.table("locked"), report);
    root.finish();
}

}  // namespace

Scene parse_scene(const std::string& text, const std::filesystem::path& path,
                  const std::vector<Override>& overrides) {
    Report report(path, overrides);
    const Table tree = read_tree(text, path, overrides, report);

    Scene scene;
    scene.path = made_absolute(path);
    scene.name = scene.path.stem().string();
    TableReader root(tree, report);
    read_sections(root, report, text, scene);
    scene.content = content_text(tree);

    report.throw_first();
    scene.warnings = report.warnings();
    return scene;
}

Scene read_scene(const std::filesystem::path& path, const std::vector<Override>& overrides) {
    return parse_scene(file_text(path), path, overrides);
}

}  // namespace rakelight
