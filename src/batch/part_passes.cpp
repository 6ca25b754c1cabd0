#include "batch/part_passes.hpp"

#include <limits>

#include "batch/ranged_pass.hpp"
#include "image/codes.hpp"

namespace rakelight {
namespace {

class PartDepthPassWriter final : public RangedPass {
public:
    PartDepthPassWriter(const PartOfPicture& part, const DepthPass& depth, const PassPlace& place)
        : RangedPass(named_picture(part.file_stem + "-depth"), place),
          index_(part.index),
          near_margin_(depth.near_margin),
          far_margin_(depth.far_margin) {
        picture_.meaning =
            "z in mm along the view axis, as in depth, of what is seen of the part \"" + part.name +
            "\" alone, in a range of its own; near is bright; where it is not seen 0";
        picture_.encoding = depth_formula;
    }

    void add(const PictureRows& rows) override {
        const Plane& mask = rows.planes.masks[index_];
        std::vector<float> heights_mm = rows.planes.mask_heights_mm[index_].values;
        for (std::size_t i = 0; i < heights_mm.size(); ++i) {
            if (mask.values[i] > 0.0F) {
                spread_.add(-double{heights_mm[i]});
            } else {
                heights_mm[i] = nothing;
            }
        }
        kept_.append(heights_mm);
    }

    void settle(const VisibleSubject& visible) override {
        VisibleSubject own;
        own.near_mm = spread_.low();
        own.far_mm = spread_.high();
        flatten_rounding(own, visible.far_mm - visible.near_mm);
        const DepthEncoding encoding{own.near_mm, own.far_mm, near_margin_, far_margin_};
        picture_.numbers = {
            {"near_mm", encoding.near_mm},           {"far_mm", encoding.far_mm},
            {"near_margin", encoding.near_margin},   {"far_margin", encoding.far_margin},
            {"mm_per_code", encoding.mm_per_code()}, {"worst_error_mm", encoding.worst_error_mm()}};
        picture_.statistics = spread_.numbers("_mm");
        write_kept([&](float height_mm) -> std::uint16_t {
            if (height_mm == nothing) return 0;
            return encoding.encode(std::min(-double{height_mm}, own.far_mm), picture_.clipped);
        });
    }

private:
    static constexpr float nothing = -std::numeric_limits<float>::infinity();
    std::size_t index_;
    double near_margin_;
    double far_margin_;
};

}  // namespace

std::unique_ptr<Pass> make_part_depth_pass(const PartOfPicture& part, const DepthPass& depth,
                                           const PassPlace& place) {
    return std::make_unique<PartDepthPassWriter>(part, depth, place);
}

}  // namespace rakelight
