#pragma once
// The command's pictures as somebody else reads them: libspng for the pixels (the command writes
// with libpng), the file's own bytes for the names of the chunks.

#include <cstdint>
#include <filesystem>
#include <glm/glm.hpp>
#include <string>
#include <vector>

#include "support.hpp"

namespace cli_test {

struct Picture {
    int width = 0, height = 0;
    int bits = 0;
    int channels = 0;  ///< 1 grey, 3 RGB, 0 any other kind
    double px_per_m_x = 0.0, px_per_m_y = 0.0;
    std::vector<std::string> chunks;  ///< in the file's order
    std::vector<std::uint16_t> codes;

    int at(int x, int y, int channel = 0) const {
        return codes[static_cast<std::size_t>((y * width + x) * channels + channel)];
    }
    bool has_chunk(const std::string& name) const;
};

/// @param bits  a code's: 16 or 8
Picture read_picture(const std::filesystem::path& file, int bits = 16);

/// Heights of a TIFF of floats, as libtiff reads them.
struct Floats {
    int width = 0, height = 0;
    double px_per_cm = 0.0;
    std::vector<float> values;
    float at(int x, int y) const { return values[static_cast<std::size_t>(y * width + x)]; }
};
Floats read_float_tiff(const std::filesystem::path& file);

/// Reads depth codes back by the formula of docs/passes.md with the manifest's numbers.
class DepthReader {
public:
    explicit DepthReader(const Json& numbers);
    double mm_per_code() const { return mm_per_code_; }
    double depth_mm(double code) const;

private:
    double near_mm_, far_mm_, near_margin_, far_margin_, mm_per_code_;
};

/// What a place of the picture sees: the points at + z * along for every z of view space, given in
/// the model's space. The viewer is where z is largest.
struct Sight {
    glm::dvec3 at, along;
};

/// The camera by the matrices in the manifest alone.
class ManifestCamera {
public:
    explicit ManifestCamera(const Json& manifest);
    /// @param u,v  pixels, whole numbers at pixel corners
    Sight sight(double u, double v) const;
    /// The same in view space.
    Sight sight_in_view(double u, double v) const;
    /// Where a place of view space is seen, in pixels, whole numbers at pixel corners.
    glm::dvec2 pixel(glm::dvec3 view_mm) const;
    const glm::dmat4& view_from_model() const { return view_from_model_; }  ///< to mm

private:
    glm::dmat4 view_from_model_, model_from_view_;
    double pixel_[3][4];
};

}  // namespace cli_test
