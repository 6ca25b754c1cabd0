// The record of a pose, as `gallery`, `poses` and `lock` read it back from a folder that may come
// from anywhere: refused, or one whose every use holds.

#include <cmath>

#include "error.hpp"
#include "fuzz_input.hpp"
#include "poses/gallery.hpp"
#include "poses/pose_record.hpp"
#include "poses/pose_tile.hpp"

using namespace rakelight;

namespace {

void use(const PoseRecord& record) {
    for (const double value : {record.pose.yaw_deg, record.pose.pitch_deg, record.pose.roll_deg,
                               record.pose.view_deg, record.zoom, record.px_per_mm})
        fuzz::require(std::isfinite(value), "numbers");
    fuzz::require(std::isfinite(tile_peak_mm(BlankGeometry(record.blank))), "a blank");
    fuzz::require(!pose_snippet(record).empty() && !lock_command(record).empty(), "words");
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const fuzz::MemoryFile file(fuzz::text_of(data, size));
    try {
        const PoseRecord record = read_pose_record(file.path());
        use(record);
        const std::string text = pose_record_text(record);
        const fuzz::MemoryFile again(text);
        fuzz::require(pose_record_text(read_pose_record(again.path())) == text,
                      "what is written reads back");
    } catch (const Error& error) {
        fuzz::require(error.code() == ExitCode::bad_scene, "exit code 3");
        fuzz::require(std::string_view(error.what()).find("found") != std::string_view::npos,
                      "what was found");
    }
    return 0;
}
