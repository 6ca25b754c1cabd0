#pragma once
// Material libraries of OBJ files (chapter 5 of the Advanced Visualizer's file formats): what they
// say of surface detail. The importer keeps blanks and quotes that stand around a picture's name,
// and passes over what a map's options say. Private to model/.

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace rakelight {

/// A picture and the options before its name.
struct MtlMap {
    std::string picture;                     ///< as written, without blanks and quotes around it
    std::string folder;                      ///< of the library, from the model's; may be empty
    std::array<double, 2> scale{1.0, 1.0};   ///< -s: on u and v
    std::array<double, 2> offset{0.0, 0.0};  ///< -o: added to u and v after that
    double strength = 1.0;                   ///< -bm, and the gain of -mm
    bool clamps = false;                     ///< -clamp on
};

struct MtlMaterial {
    std::string name;  ///< with slashes for backslashes
    std::optional<MtlMap> normal, bump, displacement, cut_out;

    bool has_maps() const { return normal || bump || displacement || cut_out; }
};

/// The materials of a library in order; one whose name comes again is gone on with. Lines that say
/// nothing of surface detail are passed over, whatever they hold.
std::vector<MtlMaterial> read_mtl(std::string_view text);

}  // namespace rakelight
