#include "scene/scene.hpp"

#include <string_view>
#include <system_error>

#include "error.hpp"
#include "scene/file_text.hpp"
#include "scene/overrides.hpp"
#include "scene/recipes.hpp"
#include "scene/scan.hpp"
#include "scene/sections.hpp"
#include "scene/toml_text.hpp"

namespace rakelight {

namespace {

using namespace scene_file;

constexpr std::string_view scene_file_words = "a scene file";

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
    if (text.size() > most_text_bytes) throw_bad_file(path, "more than 1 MiB", scene_file_words);
    Table root = parse_toml(text, {}, report);
    if (root.empty()) {
        throw_bad_file(path, "an empty file", scene_file_words,
                       "rakelight draft MODEL writes a first one.");
    }
    // Before the overrides: one key of a pass must not take all other passes away.
    if (!find(root, "pass")) root.push_back({"pass", {}, {default_passes(), {}}});
    apply_overrides(root, overrides, report);
    return root;
}

void read_sections(TableReader& root, Report& report, const std::string& text,
                   const std::filesystem::path& recipe_folder, Scene& scene) {
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
    scene.relief = read_relief(root.table("relief"), report, {scene.blank, folder, recipe_folder});
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
    Table tree = read_tree(text, path, overrides, report);

    Scene scene;
    scene.path = made_absolute(path);
    const auto recipe = merge_recipe(tree, scene.path.parent_path(), report);
    scene.name = scene.path.stem().string();
    TableReader root(tree, report);
    read_sections(root, report, text, recipe ? recipe->parent_path() : scene.path.parent_path(),
                  scene);
    if (scene.relief) scene.relief->recipe_file = recipe;
    scene.content = content_text(tree);

    report.throw_first();
    scene.warnings = report.warnings();
    return scene;
}

Scene read_scene(const std::filesystem::path& path, const std::vector<Override>& overrides) {
    return parse_scene(file_text(path, scene_file_words), path, overrides);
}

}  // namespace rakelight
