// Mean curvature against closed forms: do Carmo, "Differential Geometry of Curves and Surfaces",
// section 3-3 (surfaces of revolution). Convex is positive.

#include <functional>

#include "form_figures.hpp"
#include "form_scene.hpp"

namespace reference {
namespace {

using Curvature = std::function<double(glm::dvec3 model)>;

const char* const source = "closed forms, do Carmo 3-3";

struct Form {
    std::string name;
    cli_test::Model model;
    Curvature curvature;
};

// Radii on the blank in mm. A torus of ring R and tube r has the principal curvatures 1/r and
// cos t / (R + r cos t), with R + r cos t the distance from the axis (do Carmo, 3-3, example 5).
std::vector<Form> forms() {
    const double ring = 5.5, tube = 2.5;
    const auto of_torus = [=](glm::dvec3 p) {
        const double from_axis = std::hypot(p.x, p.y);
        return 0.5 * (1.0 / tube + (from_axis - ring) / (tube * from_axis));
    };
    return {{"sphere", cli_test::sphere(6.0, 128), [](glm::dvec3) { return 1.0 / 6.0; }},
            {"cylinder", cylinder(4.0, 60.0, 720), [](glm::dvec3) { return 1.0 / 8.0; }},
            {"torus", torus(ring, tube, 480, 240), of_torus}};
}

const std::vector<std::string> poses{
    "yaw_deg = 20\npitch_deg = -25\nroll_deg = 10\n",
    "yaw_deg = -35\npitch_deg = 15\nprojection = \"perspective\"\n",
};

struct Errors {
    double sum = 0.0, largest_exact = 0.0, sum_found = 0.0;
    double low = 1e300, high = -1e300;
    std::size_t count = 0, signs = 0, wrong_signs = 0;
    double mean() const { return sum / static_cast<double>(count) / largest_exact; }
};

// Over the pixels away from edges that face the viewer within 72 degrees.
Errors compare(const SeenForm& seen, const Curvature& exact) {
    const cli_test::Picture curvature = seen.read("curvature");
    const double h_max = seen.rendered.numbers("curvature").at("h_max_per_mm");
    const glm::dmat4 model_from_view = glm::inverse(seen.camera.view_from_model());
    const int n = seen.grid.per_axis;
    Errors errors;
    for (int y = 0; y < curvature.height; ++y) {
        for (int x = 0; x < curvature.width; ++x) {
            if (!seen.traced.inner(x, y) || seen.traced.at(x, y).slope > 3.08) continue;
            const Sample& sample = seen.grid.at(x * n + n / 2, y * n + n / 2);
            const double wanted = exact(glm::dvec3(model_from_view * glm::dvec4(sample.at, 1.0)));
            const double found = (curvature.at(x, y) - 32768) * h_max / 32767.0;
            errors.sum += std::abs(found - wanted);
            errors.sum_found += found;
            errors.low = std::min(errors.low, found);
            errors.high = std::max(errors.high, found);
            errors.largest_exact = std::max(errors.largest_exact, std::abs(wanted));
            ++errors.count;
            if (std::abs(wanted) < 0.02) continue;  // a 20th of the torus' largest
            ++errors.signs;
            errors.wrong_signs += found * wanted <= 0.0;
        }
    }
    return errors;
}

std::string pass_at(double scale_mm) {
    return "[pass.curvature]\nscale_mm = " + std::to_string(scale_mm) + "\n";
}

void keep_worst(Figure& figure, double value, const std::string& where) {
    if (figure.where.empty() || value > figure.reached) {
        figure.reached = value;
        figure.where = where;
    }
}

std::vector<Figure> against_forms(const fs::path& folder, const FormEffort& effort) {
    Figure error{"curvature", "mean error over the largest curvature of the form", source, 0, 0.02};
    Figure sign{"curvature", "share of pixels with the wrong sign where H is beyond 0.02 per mm",
                source, 0, 0.0};
    for (const auto& form : forms()) {
        for (const double scale_mm : effort.scales_mm) {
            for (std::size_t i = 0; i < poses.size(); ++i) {
                const SeenForm seen = see({form.model, effort.px_per_mm, poses[i],
                                           pass_at(scale_mm), "normals = \"file\"\n"},
                                          folder, form.name);
                const Errors errors = compare(seen, form.curvature);
                const std::string where = form.name + ", scale " + number_text(scale_mm) + " mm, " +
                                          (i == 0 ? "parallel" : "perspective");
                keep_worst(error, errors.mean(), where);
                keep_worst(sign,
                           static_cast<double>(errors.wrong_signs) /
                               static_cast<double>(std::max<std::size_t>(errors.signs, 1)),
                           where);
            }
        }
    }
    return {error, sign};
}

// However it is turned, a sphere is a sphere. Normals are made from the facets, so that both what
// facets leave and what the pose does are in the figures.
std::vector<Figure> of_a_turned_sphere(const fs::path& folder, const FormEffort& effort) {
    Figure flat{"curvature",
                "spread over a faceted sphere, made normals, over H_max: half of high less low",
                "closed form: the same everywhere", 0, 0.01};
    Figure turned{"curvature", "mean over a sphere in four parallel poses: largest less smallest",
                  "closed form: no pose matters; over the exact value", 0, 0.01};
    double low = 1e300, high = -1e300;
    for (const std::string pose : {"", "yaw_deg = 33\n", "pitch_deg = 50\nroll_deg = 17\n",
                                   "yaw_deg = 120\npitch_deg = -35\nroll_deg = 77\n"}) {
        const SeenForm seen = see({cli_test::sphere(6.0, 160), effort.px_per_mm, pose,
                                   pass_at(0.25), "normals = \"made\"\n"},
                                  folder, "turned");
        const Errors errors = compare(seen, [](glm::dvec3) { return 1.0 / 6.0; });
        const double h_max = seen.rendered.numbers("curvature").at("h_max_per_mm");
        const std::string where = pose.empty() ? "front" : pose.substr(0, pose.size() - 1);
        keep_worst(flat, 0.5 * (errors.high - errors.low) / h_max,
                   where.substr(0, where.find('\n')));
        const double mean = errors.sum_found / static_cast<double>(errors.count);
        low = std::min(low, mean);
        high = std::max(high, mean);
    }
    turned.reached = (high - low) * 6.0;
    turned.where = "sphere";
    return {flat, turned};
}

}  // namespace

std::vector<Figure> curvature_figures(const fs::path& folder, const FormEffort& effort) {
    std::vector<Figure> figures = against_forms(folder, effort);
    for (auto& figure : of_a_turned_sphere(folder, effort)) figures.push_back(figure);
    return figures;
}

}  // namespace reference
