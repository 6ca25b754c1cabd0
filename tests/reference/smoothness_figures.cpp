// Occlusion where it is known exactly: no noise, no halo beyond the reach.

#include <algorithm>
#include <functional>

#include "form_figures.hpp"
#include "form_scene.hpp"

namespace reference {
namespace {

constexpr double pi = 3.14159265358979323846;

// What a Gaussian of 5 pixels' deviation leaves of a picture: the differences, at the pixels whose
// window of three deviations lies wholly inside.
struct Residue {
    double rms = 0.0, mean = 0.0;
    std::size_t count = 0;
};

constexpr int window = 15;

std::vector<double> gaussian() {
    std::vector<double> weights;
    double sum = 0.0;
    for (int i = -window; i <= window; ++i) {
        weights.push_back(std::exp(-0.5 * i * i / 25.0));
        sum += weights.back();
    }
    for (auto& weight : weights) weight /= sum;
    return weights;
}

// Along a row (step 1) or a column (step: the width). Near the picture's edge it mixes what does
// not belong together; nothing there is looked at.
std::vector<double> blurred(const std::vector<double>& values, int step) {
    const auto weights = gaussian();
    std::vector<double> result(values.size(), 0.0);
    const auto last = static_cast<std::ptrdiff_t>(values.size()) - 1;
    for (std::ptrdiff_t i = 0; i <= last; ++i) {
        for (int k = -window; k <= window; ++k) {
            const std::ptrdiff_t at = std::clamp<std::ptrdiff_t>(i + k * step, 0, last);
            result[static_cast<std::size_t>(i)] += weights[static_cast<std::size_t>(k + window)] *
                                                   values[static_cast<std::size_t>(at)];
        }
    }
    return result;
}

using Inside = std::function<bool(int x, int y)>;

Residue residue(const cli_test::Picture& picture, const Inside& inside) {
    std::vector<double> values;
    for (const auto code : picture.codes) values.push_back(code / 65535.0);
    const auto smooth = blurred(blurred(values, 1), picture.width);
    const auto all_inside = [&](int x, int y) {
        for (int j = -window; j <= window; j += 5) {
            for (int i = -window; i <= window; i += 5) {
                if (!inside(x + i, y + j)) return false;
            }
        }
        return true;
    };
    Residue result;
    for (int y = window; y + window < picture.height; ++y) {
        for (int x = window; x + window < picture.width; ++x) {
            if (!all_inside(x, y)) continue;
            const auto i = static_cast<std::size_t>(y * picture.width + x);
            result.rms += std::pow(values[i] - smooth[i], 2);
            result.mean += values[i];
            ++result.count;
        }
    }
    result.rms =
        std::sqrt(result.rms / static_cast<double>(std::max<std::size_t>(result.count, 1)));
    result.mean /= static_cast<double>(std::max<std::size_t>(result.count, 1));
    return result;
}

// A hemispherical bowl in a square plate, looked into from the front. Its points are on the rings
// of equal angles of the bowl; the plate is the ring around it.
cli_test::Model bowl(double r, double half, int around, int rings) {
    cli_test::Model model;
    for (int i = 0; i < around; ++i) {
        const double a = 2.0 * pi * i / around;
        const glm::dvec3 out(std::cos(a), std::sin(a), 0.0);
        for (int j = 0; j <= rings; ++j) {
            const double b = 0.5 * pi * j / rings;
            model.normals.push_back(-std::sin(b) * out + glm::dvec3(0, 0, std::cos(b)));
            model.points.push_back(-r * model.normals.back());
        }
        const double scale = half / std::max(std::abs(out.x), std::abs(out.y));
        for (const double from_axis : {r, scale}) {
            model.normals.emplace_back(0, 0, 1);
            model.points.push_back(from_axis * out);
        }
    }
    const auto per = static_cast<std::uint32_t>(rings + 3);
    for (int i = 0; i < around; ++i) {
        const auto a = static_cast<std::uint32_t>(i) * per;
        const auto b = static_cast<std::uint32_t>((i + 1) % around) * per;
        for (std::uint32_t j = 0; j + 1 < per; ++j) {
            if (j == static_cast<std::uint32_t>(rings)) continue;  // from bowl to plate
            model.triangles.push_back({a + j, a + j + 1, b + j + 1});
            if (j > 0) model.triangles.push_back({a + j, b + j + 1, b + j});
        }
    }
    return model;
}

std::string reach(double reach_mm) {
    return "[pass.occlusion]\nreach_mm = " + std::to_string(reach_mm) + "\n";
}

Figure without_noise(const fs::path& folder, const FormEffort& effort) {
    Figure figure{
        "occlusion",
        "residue of plane, sphere and cylinder: the pass less its Gaussian of 5 pixels, rms",
        "closed form: open everywhere", 0, 0.001};
    // The cylinder's ends lie beyond the picture: nobody looks into it.
    const std::vector<std::pair<std::string, cli_test::Model>> forms{
        {"plane", cli_test::plate(7, 7)},
        {"sphere", cli_test::sphere(7.0, 128)},
        {"cylinder", cylinder(4.0, 60.0, 720)}};
    for (const auto& [name, model] : forms) {
        for (const std::string pose :
             {"yaw_deg = 25\npitch_deg = 20\n", "yaw_deg = 25\nprojection = \"perspective\"\n"}) {
            const SeenForm seen =
                see({model, effort.px_per_mm, pose, reach(2.0), ""}, folder, "smooth-" + name);
            const Residue found = residue(seen.read("occlusion"),
                                          [&](int x, int y) { return seen.traced.inner(x, y); });
            if (figure.where.empty() || found.rms > figure.reached) {
                figure.reached = found.rms;
                figure.where = name;
            }
        }
    }
    return figure;
}

// Inside a sphere every element sees each other piece of it by its share of the whole area
// (Howell's catalogue of configuration factors; written from memory): in half a sphere the sky is
// open by a half everywhere.
std::vector<Figure> in_a_bowl(const fs::path& folder, const FormEffort& effort) {
    const double r = 6.0;
    const SeenForm seen =
        see({bowl(r, 7.0, 720, 180), effort.px_per_mm, "", reach(12.5), "normals = \"file\"\n"},
            folder, "bowl");
    const double left = seen.rendered.manifest.at("image").at("left_mm");
    const Residue found = residue(seen.read("occlusion"), [&](int x, int y) {
        const double right = left + (x + 0.5) / effort.px_per_mm;
        const double up = -left - (y + 0.5) / effort.px_per_mm;
        return std::hypot(right, up) < 0.9 * r;
    });
    return {
        {"occlusion", "half-sphere bowl, to nine tenths of its radius: mean less 1/2",
         "closed form: 1/2 everywhere (Howell)", std::abs(found.mean - 0.5), 0.02, false, "bowl"},
        {"occlusion", "the same: residue, rms", "closed form", found.rms, std::nullopt, false,
         "bowl"}};
}

Figure without_halo(const fs::path& folder, const FormEffort& effort) {
    // A wall of 3 mm on a plate: its foot at x = 0.
    const cli_test::Model model =
        cli_test::joined(cli_test::plate(8, 5), cli_test::box({-7.0, -4.0, 0.0}, {0.0, 4.0, 3.0}));
    const double reach_mm = 2.0;
    const SeenForm seen =
        see({model, effort.px_per_mm, "", reach(reach_mm), "normals = \"made\"\n"}, folder, "halo");
    const cli_test::Picture occlusion = seen.read("occlusion");
    const double left = seen.rendered.manifest.at("image").at("left_mm");
    std::size_t beyond = 0, closed = 0, near = 0;
    for (int y = 0; y < occlusion.height; ++y) {
        for (int x = 0; x < occlusion.width; ++x) {
            const double right = left + (x + 0.5) / effort.px_per_mm;
            if (!seen.traced.inner(x, y) || right < 0.0) continue;
            near += right < reach_mm && occlusion.at(x, y) < 65535;
            if (right < reach_mm + 0.5 / effort.px_per_mm) continue;
            ++beyond;
            closed += occlusion.at(x, y) != 65535;
        }
    }
    if (beyond == 0 || near == 0) throw std::runtime_error("the halo's scene shows no wall");
    return {"occlusion",
            "pixels of a flat farther than the reach from a wall that are not fully open",
            "definition in docs/passes.md",
            static_cast<double>(closed),
            0.0,
            false,
            "wall"};
}

}  // namespace

std::vector<Figure> smoothness_figures(const fs::path& folder, const FormEffort& effort) {
    std::vector<Figure> figures{without_noise(folder, effort), without_halo(folder, effort)};
    for (auto& figure : in_a_bowl(folder, effort)) figures.push_back(figure);
    return figures;
}

}  // namespace reference
