// Pose folders to try sheet and gallery on: a scene's model from many sides, by the library itself.
// Then joins them into a gallery there.
//   grow_poses SCENE FOLDER COUNT [LONGEST_PX]

#include <cmath>
#include <cstdlib>
#include <iostream>
#include <string>

#include "batch/gallery.hpp"
#include "batch/job.hpp"
#include "batch/pose_record.hpp"
#include "batch/pose_tile.hpp"
#include "error.hpp"
#include "image/output_set.hpp"
#include "render/processor_renderer.hpp"

using namespace rakelight;

namespace {

// Turns about a ring of yaws, in three pitches, so that neighbours differ as in a real sweep.
PoseSettings pose_of(int number, int count) {
    PoseSettings pose;
    const int rows = count >= 12 ? 4 : 1;
    const int columns = (count + rows - 1) / rows;
    pose.yaw_deg = std::round(-90.0 + 180.0 * (number % columns) / std::max(columns - 1, 1));
    pose.pitch_deg = -15.0 + 15.0 * (number / columns);
    return pose;
}

// Invented where no pass was asked for; every third pose does not know its hidden share.
PoseFigures figures_of(const VisibleSubject& visible, int number) {
    PoseFigures figures;
    figures.field_share = visible.field_share;
    figures.depth_mm = visible.far_mm - visible.near_mm;
    figures.depth_evenness = 0.5 + 0.4 * std::sin(number);
    if (number % 3 != 2) figures.hidden_share = 0.1 + 0.1 * std::cos(1.7 * number);
    figures.crevice_share = 0.2 + 0.1 * std::sin(2.3 * number);
    figures.rim_gap_mm = 0.8 - 0.05 * (number % 20);
    return figures;
}

PoseRecord record_of(const PreparedScene& prepared, int number, int count) {
    PoseRecord record;
    const PoseSettings& pose = prepared.scene.pose;
    record.name = "yaw" + std::to_string(static_cast<int>(pose.yaw_deg)) + "_pitch" +
                  std::to_string(static_cast<int>(pose.pitch_deg));
    record.number = static_cast<std::size_t>(number);
    record.of = static_cast<std::size_t>(count);
    record.scene = prepared.scene.name;
    record.pose = pose;
    record.key = "0123456789abcdef";
    record.blank = prepared.scene.blank;
    record.px_per_mm = prepared.framing.grid.px_per_mm;
    return record;
}

void add_picture(OutputSet& outputs, PoseRecord& record, const char* name, const Image8& image) {
    outputs.add(name, encode_png8(image, PngEffort::small));
    record.files.emplace_back(name);
}

void write_pose(const PreparedScene& prepared, Renderer& renderer, PoseRecord record,
                const std::filesystem::path& folder) {
    const BlankGeometry blank(prepared.scene.blank);
    PoseTile tile(prepared.scene.blank, prepared.framing.grid);
    VisibleMeter meter(prepared.framing.grid.px_per_mm);
    RenderRequest request = render_request(prepared, blank);
    request.occlusion_reach_mm = 3.0;
    renderer.render(request, [&](const RenderedPlanes& planes, int first_row) {
        const auto masks =
            blank_masks(blank, prepared.framing.grid, first_row, planes.coverage.height);
        meter.add(planes, masks, first_row);
        tile.add({planes, masks, first_row});
    });
    record.figures = figures_of(meter.subject(), static_cast<int>(record.number));
    OutputSet outputs(folder);
    const Image8 relief = tile.relief();
    record.width_px = relief.width;
    record.height_px = relief.height;
    add_picture(outputs, record, relief_file, relief);
    add_picture(outputs, record, surface_file, tile.surface());
    outputs.add(pose_record_file, pose_record_text(record));
    outputs.commit({pose_record_file});
}

void write_unusable(PoseRecord record, const std::filesystem::path& folder) {
    record.usable = false;
    record.reason = "the subject is seen edge-on";
    OutputSet outputs(folder);
    outputs.add(pose_record_file, pose_record_text(record));
    outputs.commit({pose_record_file});
}

void grow(const std::filesystem::path& scene_file, const std::filesystem::path& folder, int count,
          int longest_px) {
    ProcessorRenderer renderer(std::int64_t{1} << 30);
    for (int number = 0; number < count; ++number) {
        Scene scene = read_scene(scene_file);
        scene.locked.reset();
        scene.pose = pose_of(number, count);
        scene.passes = PassSettings{};
        scene.image.samples = 2;
        scene.image.px_per_mm = longest_px / std::max(scene.blank.width_mm, scene.blank.height_mm);
        const PreparedScene prepared = prepare_scene(scene, LoadOptions{});
        renderer.set_mesh(prepared.mesh, prepared.used);
        const PoseRecord record = record_of(prepared, number, count);
        if (count > 8 && number == count - 2) {
            write_unusable(record, folder / record.name);
        } else {
            write_pose(prepared, renderer, record, folder / record.name);
        }
    }
    write_gallery({folder}, {}, folder);
}

}  // namespace

int main(int argc, char** argv) {
    if (argc < 4) {
        std::cerr << "grow_poses SCENE FOLDER COUNT [LONGEST_PX]\n";
        return 2;
    }
    try {
        grow(argv[1], argv[2], std::atoi(argv[3]), argc > 4 ? std::atoi(argv[4]) : 600);
    } catch (const Error& error) {
        std::cerr << error.what() << "\n";
        return static_cast<int>(error.code());
    }
    return 0;
}
