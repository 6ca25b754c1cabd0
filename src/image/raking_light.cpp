#include <cassert>
#include <cstddef>
#include <vector>

#include "image/codes.hpp"
#include "image/lamps.hpp"
#include "image/proof.hpp"

namespace rakelight {
namespace {

constexpr float background = 0.036F;  // linear: a quiet grey, darker than any lit flat

}  // namespace

Image16 raking_light(const Plane& nx, const Plane& ny, const Plane& nz, const Plane& coverage,
                     const Plane& occlusion, double lamp_deg, double height_deg) {
    assert(nx.values.size() == coverage.values.size());
    assert(ny.values.size() == nx.values.size() && nz.values.size() == nx.values.size());
    assert(occlusion.values.empty() || occlusion.values.size() == nx.values.size());
    const Lights lights(lamp_deg, height_deg);
    Image16 picture(coverage.width, coverage.height, 1);
    std::uint64_t beyond_white = 0;  // nothing here is measured from, so it is not reported
    for (std::size_t i = 0; i < picture.codes.size(); ++i) {
        const float cover = coverage.values[i];
        float light = background;
        if (cover > 0.0F) {
            const float open = occlusion.values.empty() ? 1.0F : occlusion.values[i];
            const float lit = lights.on({nx.values[i], ny.values[i], nz.values[i]}, open);
            light += cover * (lit - background);
        }
        picture.codes[i] = encode_share(light, beyond_white);
    }
    return picture;
}

void encode_srgb(Image16& linear) {
    // A power for each of all codes once, instead of one for each pixel of every picture.
    static const std::vector<std::uint16_t> codes = [] {
        std::vector<std::uint16_t> table(65536);
        std::uint64_t beyond_white = 0;
        for (std::size_t code = 0; code < table.size(); ++code) {
            const float light = static_cast<float>(code) / 65535.0F;
            table[code] = encode_share(srgb_from_linear(light), beyond_white);
        }
        return table;
    }();
    for (auto& code : linear.codes) code = codes[code];
}

}  // namespace rakelight
