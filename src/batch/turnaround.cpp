#include "batch/turnaround.hpp"

#include <algorithm>
#include <array>
#include <functional>

#include "framing/frame.hpp"
#include "image/proof.hpp"
#include "interrupt.hpp"
#include "render/processor_renderer.hpp"

namespace rakelight {
namespace {

constexpr int share_px = 256;
constexpr int panel_px = 440;
constexpr double picture_mm = 40.0;  // a side, on a blank that is never made
constexpr double margin = 0.06;      // of a side
constexpr double occlusion_reach_mm = 4.0;
constexpr double lamp_deg = 135.0;  // as on the proof sheet
constexpr double lamp_height_deg = 25.0;

struct Side {
    const char* name;
    double yaw_deg;
    double pitch_deg;
};

// "right" is what lies to the right of the front's picture, as in technical drawings.
constexpr std::array<Side, 6> sides{{{"front", 0, 0},
                                     {"right", -90, 0},
                                     {"back", 180, 0},
                                     {"left", 90, 0},
                                     {"top", 0, 90},
                                     {"foot", 0, -90}}};

glm::dmat3 turn_of(const Side& side, Axis up) {
    PoseSettings pose;
    pose.yaw_deg = side.yaw_deg;
    pose.pitch_deg = side.pitch_deg;
    return view_from_model(pose, up, std::nullopt);
}

// All sides in one scale: the longest extent of the model fills the picture.
RenderRequest request_of(const Mesh& mesh, const Side& side, Axis up, int px) {
    const glm::dvec3 size = mesh.bounds().size();
    const double longest = std::max({size.x, size.y, size.z, 1e-30});
    RenderRequest request;
    request.camera.view_from_model = turn_of(side, up);
    request.camera.centre_model = mesh.bounds().centre();
    request.camera.mm_per_unit = (1.0 - 2.0 * margin) * picture_mm / longest;
    request.grid = {px, px, px / picture_mm, -0.5 * picture_mm, 0.5 * picture_mm};
    return request;
}

// The file's axis that points in a direction of the view.
std::string axis_along(const glm::dmat3& view_from_model, int view_axis) {
    for (const Axis axis :
         {Axis::plus_x, Axis::minus_x, Axis::plus_y, Axis::minus_y, Axis::plus_z, Axis::minus_z}) {
        if ((view_from_model * axis_vector(axis))[view_axis] > 0.5) return axis_name(axis);
    }
    return "";
}

std::string caption_of(const Side& side, Axis up) {
    const glm::dmat3 turn = turn_of(side, up);
    return std::string(side.name) + ": " + axis_along(turn, 1) + " up, " + axis_along(turn, 0) +
           " right, from " + axis_along(turn, 2);
}

void render_all(const Mesh& mesh, Axis up, int px, const std::function<void(RenderRequest&)>& ask,
                const std::function<void(const Side&, const RenderedPlanes&)>& take) {
    ProcessorRenderer renderer(std::int64_t{1} << 30);  // a picture is one strip
    renderer.set_mesh(mesh, std::vector<bool>(mesh.parts().size(), true));
    for (const Side& side : sides) {
        stop_if_interrupted();
        RenderRequest request = request_of(mesh, side, up, px);
        ask(request);
        renderer.render(request, [&](const RenderedPlanes& rows, int) { take(side, rows); });
    }
}

}  // namespace

std::vector<PartSeen> parts_seen(const Mesh& mesh, Axis up) {
    std::vector<double> front_px(mesh.parts().size());
    std::vector<double> all_px(mesh.parts().size());
    double front_total = 0.0;
    double total = 0.0;
    const auto ask = [](RenderRequest& request) {
        request.samples = 1;
        request.part_numbers = true;
    };
    render_all(mesh, up, share_px, ask, [&](const Side& side, const RenderedPlanes& rows) {
        for (const std::uint32_t number : rows.part_numbers) {
            if (number == 0) continue;
            all_px[number - 1] += 1.0;
            total += 1.0;
            if (&side != &sides[0]) continue;
            front_px[number - 1] += 1.0;
            front_total += 1.0;
        }
    });
    std::vector<PartSeen> seen;
    for (std::size_t i = 0; i < all_px.size(); ++i) {
        seen.push_back({front_total > 0.0 ? front_px[i] / front_total : 0.0,
                        total > 0.0 ? all_px[i] / total : 0.0});
    }
    return seen;
}

std::vector<std::byte> turnaround_picture(const Mesh& mesh, Axis up, const std::string& title) {
    std::vector<ProofPanel> panels;
    const auto ask = [](RenderRequest& request) {
        request.occlusion_reach_mm = occlusion_reach_mm;
    };
    Image16 image;
    const Side* drawn = nullptr;
    const auto end_panel = [&] {
        if (drawn == nullptr) return;
        encode_srgb(image);
        panels.push_back({caption_of(*drawn, up), std::move(image)});
    };
    render_all(mesh, up, panel_px, ask, [&](const Side& side, const RenderedPlanes& rows) {
        if (&side != drawn) {
            end_panel();
            drawn = &side;
            image = Image16(panel_px, 0, 1);
        }
        const Image16 lit = raking_light(rows.normal_x, rows.normal_y, rows.normal_z, rows.coverage,
                                         rows.occlusion, lamp_deg, lamp_height_deg);
        image.height += lit.height;
        image.codes.insert(image.codes.end(), lit.codes.begin(), lit.codes.end());
    });
    end_panel();
    ProofLook look;
    look.panel_px = panel_px;
    look.columns = 3;
    return encode_proof(panels, title, look);
}

}  // namespace rakelight
