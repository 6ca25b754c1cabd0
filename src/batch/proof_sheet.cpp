#include "batch/proof_sheet.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>

#include "image/lamps.hpp"
#include "image/proof.hpp"

namespace rakelight {
namespace {

std::string title_of(const std::string& scene_name, const ImageGrid& grid) {
    char title[160];
    std::snprintf(title, sizeof title, "%.60s   %d x %d px at %.4g px/mm", scene_name.c_str(),
                  grid.width, grid.height, grid.px_per_mm);
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
ProofPanel curvature_panel(Image16 image) {
    const double gain = 32767.0 / usual_deviation(image);
    char caption[64];
    std::snprintf(caption, sizeof caption, "curvature, contrast x %.1f", gain);
    for (auto& code : image.codes) {
        const double shown = 32768.0 + gain * (static_cast<double>(code) - 32768.0);
        code = static_cast<std::uint16_t>(std::clamp(shown, 0.0, 65535.0));
    }
    return {caption, std::move(image)};
}

double grey_of(const std::string& region) {
    if (region == "rim") return 0.9;
    if (region == "field") return 0.5;
    return region == "exergue" ? -0.2 : 0.0;  // the exergue is a part of the field, shown darker
}

std::vector<std::uint16_t> blank_codes(const std::vector<BlankMask>& masks) {
    std::vector<std::uint16_t> codes(masks.front().coverage.values.size());
    for (std::size_t i = 0; i < codes.size(); ++i) {
        double grey = 0.0;
        for (const auto& mask : masks) grey += grey_of(mask.region) * mask.coverage.values[i];
        codes[i] = static_cast<std::uint16_t>(65535.0 * std::clamp(grey, 0.0, 1.0));
    }
    return codes;
}

bool of_the_blank(const Picture& picture) {
    return picture.name.rfind("blank", 0) == 0;
}

}  // namespace

AreaReduction panel_reduction(const ImageGrid& grid) {
    return {grid.width, grid.height, 1,
            reduced_size(grid.width, grid.height, ProofLook{}.panel_px)};
}

ProofExtras::ProofExtras(const ImageGrid& grid)
    : lamp_(panel_reduction(grid)), blank_(panel_reduction(grid)) {}

void ProofExtras::add_lamp(const PictureRows& rows) {
    const RenderedPlanes& planes = rows.planes;
    lamp_.add_rows(raking_light(planes.normal_x, planes.normal_y, planes.normal_z, planes.coverage,
                                planes.occlusion, usual_lamp_deg, usual_lamp_height_deg)
                       .codes);
}

void ProofExtras::add_blank(const PictureRows& rows) {
    blank_.add_rows(blank_codes(rows.masks));
}

Image16 ProofExtras::lamp() const {
    Image16 image = lamp_.image();
    encode_srgb(image);
    return image;
}

std::vector<std::byte> proof_sheet(const std::string& scene_name, const ImageGrid& grid,
                                   const std::vector<std::unique_ptr<Pass>>& passes,
                                   const ProofExtras& extras) {
    std::vector<ProofPanel> panels{{"under a low lamp", extras.lamp()}};
    for (const auto& pass : passes) {
        const Picture& picture = pass->picture();
        if (of_the_blank(picture)) continue;
        panels.push_back(picture.name == "curvature" ? curvature_panel(*pass->panel())
                                                     : ProofPanel{pass->caption(), *pass->panel()});
    }
    for (const auto& pass : passes) {
        for (ProofPanel& panel : pass->more_panels()) panels.push_back(std::move(panel));
    }
    panels.push_back({"blank", extras.blank()});
    return encode_proof(panels, title_of(scene_name, grid));
}

}  // namespace rakelight
