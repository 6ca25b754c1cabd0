#include "batch/proof_sheet.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "image/proof.hpp"

namespace rakelight {
namespace {

constexpr double lamp_deg = 135.0;  // from the upper left, as reliefs are judged
constexpr double lamp_height_deg = 25.0;

std::string title_of(const PreparedScene& prepared) {
    const ImageGrid& grid = prepared.framing.grid;
    char title[160];
    std::snprintf(title, sizeof title, "%.60s   %d x %d px at %.4g px/mm",
                  prepared.scene.name.c_str(), grid.width, grid.height, grid.px_per_mm);
    return title;
}

// The magnitude that 99 % of the subject's codes keep below, from the middle code.
int usual_deviation(const Image16& image) {
    std::vector<std::uint32_t> counts(32769, 0);
    std::uint64_t total = 0;
    for (const auto code : image.codes) {
        const int deviation = std::abs(static_cast<int>(code) - 32768);
        if (deviation == 0) continue;  // the background, and what is flat
        ++counts[static_cast<std::size_t>(deviation)];
        ++total;
    }
    std::uint64_t below = 0;
    for (int deviation = 0; deviation < 32768; ++deviation) {
        below += counts[static_cast<std::size_t>(deviation)];
        if (100 * below >= 99 * total) return std::max(deviation, 1);
    }
    return 32768;
}

// A few sharp edges set the range of the curvature pass; on a sheet to look at they may clip.
ProofPanel curvature_panel(const Picture& picture) {
    const double gain = 32767.0 / usual_deviation(picture.image);
    char caption[64];
    std::snprintf(caption, sizeof caption, "curvature, contrast x %.1f", gain);
    ProofPanel panel{caption, picture.image};
    for (auto& code : panel.image.codes) {
        const double shown = 32768.0 + gain * (static_cast<double>(code) - 32768.0);
        code = static_cast<std::uint16_t>(std::clamp(shown, 0.0, 65535.0));
    }
    return panel;
}

double grey_of(const std::string& region) {
    if (region == "rim") return 0.9;
    if (region == "field") return 0.5;
    return region == "exergue" ? -0.2 : 0.0;  // the exergue is a part of the field, shown darker
}

ProofPanel blank_panel(const std::vector<BlankMask>& masks) {
    const Plane& first = masks.front().coverage;
    ProofPanel panel{"blank", Image16(first.width, first.height, 1)};
    for (std::size_t i = 0; i < first.values.size(); ++i) {
        double grey = 0.0;
        for (const auto& mask : masks) grey += grey_of(mask.region) * mask.coverage.values[i];
        panel.image.codes[i] = static_cast<std::uint16_t>(65535.0 * std::clamp(grey, 0.0, 1.0));
    }
    return panel;
}

bool of_the_blank(const Picture& picture) {
    return picture.name.rfind("blank", 0) == 0;
}

}  // namespace

std::vector<std::byte> proof_sheet(const PreparedScene& prepared,
                                   const std::vector<Picture>& pictures,
                                   const std::vector<BlankMask>& masks,
                                   const RenderedPlanes& planes) {
    std::vector<ProofPanel> panels{
        {"under a low lamp",
         raking_light(planes.normal_x, planes.normal_y, planes.normal_z, planes.coverage,
                      planes.occlusion, lamp_deg, lamp_height_deg)}};
    for (const auto& picture : pictures) {
        if (of_the_blank(picture)) continue;
        panels.push_back(picture.name == "curvature" ? curvature_panel(picture)
                                                     : ProofPanel{picture.name, picture.image});
    }
    panels.push_back(blank_panel(masks));
    return encode_proof(panels, title_of(prepared));
}

}  // namespace rakelight
