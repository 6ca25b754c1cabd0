#include "relief_figures.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>

#include "parallel_rows.hpp"
#include "pictures.hpp"

namespace reference {
namespace {

constexpr double pi = 3.14159265358979323846;
constexpr int lamps = 8;
constexpr double lamp_height_deg = 20.0;
constexpr int border_px = 3;  // heights beyond the outline are the field's

/// Numbers of a picture, whole rows.
struct Map {
    int width = 0, height = 0;
    std::vector<double> values;

    Map(int w, int h) : width(w), height(h), values(static_cast<std::size_t>(w * h)) {}
    double& at(int x, int y) { return values[static_cast<std::size_t>(y * width + x)]; }
    double at(int x, int y) const { return values[static_cast<std::size_t>(y * width + x)]; }
};

/// Which pixels count: covered, and all their neighbours within the border too.
std::vector<bool> inner_pixels(const cli_test::Picture& cover) {
    std::vector<bool> inner(cover.codes.size());
    for (int y = border_px; y < cover.height - border_px; ++y) {
        for (int x = border_px; x < cover.width - border_px; ++x) {
            bool all = true;
            for (int j = -border_px; j <= border_px && all; ++j)
                for (int i = -border_px; i <= border_px && all; ++i)
                    all = cover.at(x + i, y + j) == 65535;
            inner[static_cast<std::size_t>(y * cover.width + x)] = all;
        }
    }
    return inner;
}

/// Central differences, mm of height for a mm.
std::array<Map, 2> slopes_of(const Map& height_mm, double px_per_mm) {
    std::array<Map, 2> slopes{Map(height_mm.width, height_mm.height),
                              Map(height_mm.width, height_mm.height)};
    for (int y = 1; y + 1 < height_mm.height; ++y) {
        for (int x = 1; x + 1 < height_mm.width; ++x) {
            slopes[0].at(x, y) =
                0.5 * px_per_mm * (height_mm.at(x + 1, y) - height_mm.at(x - 1, y));
            slopes[1].at(x, y) =
                0.5 * px_per_mm * (height_mm.at(x, y - 1) - height_mm.at(x, y + 1));
        }
    }
    return slopes;
}

/// Lambert's law.
Map shading(const std::array<Map, 2>& slopes, int lamp) {
    const double turn = 2.0 * pi * lamp / lamps, rise = lamp_height_deg * pi / 180.0;
    const glm::dvec3 light(std::cos(turn) * std::cos(rise), std::sin(turn) * std::cos(rise),
                           std::sin(rise));
    Map shade(slopes[0].width, slopes[0].height);
    for (std::size_t i = 0; i < shade.values.size(); ++i) {
        const glm::dvec3 normal =
            glm::normalize(glm::dvec3(-slopes[0].values[i], -slopes[1].values[i], 1.0));
        shade.values[i] = std::max(0.0, glm::dot(normal, light));
    }
    return shade;
}

/// A Gaussian along rows, then along columns, of what counts alone; written without the product's.
Map blurred(const Map& map, const std::vector<bool>& counts, double sigma) {
    const int reach = static_cast<int>(std::ceil(4.0 * sigma));
    std::vector<double> kernel;
    for (int k = -reach; k <= reach; ++k) kernel.push_back(std::exp(-0.5 * k * k / sigma / sigma));
    Map value(map.width, map.height), weight = value;
    for (std::size_t i = 0; i < map.values.size(); ++i) {
        weight.values[i] = counts[i] ? 1.0 : 0.0;
        value.values[i] = counts[i] ? map.values[i] : 0.0;
    }
    const auto along = [&](Map& from, int step_x, int step_y) {
        Map to(from.width, from.height);
        parallel_rows(from.height, [&](int y) {
            for (int x = 0; x < from.width; ++x) {
                for (int k = -reach; k <= reach; ++k) {
                    const int i = x + k * step_x, j = y + k * step_y;
                    if (i < 0 || j < 0 || i >= from.width || j >= from.height) continue;
                    to.at(x, y) += kernel[static_cast<std::size_t>(k + reach)] * from.at(i, j);
                }
            }
        });
        from = std::move(to);
    };
    for (Map* each : {&value, &weight}) {
        along(*each, 1, 0);
        along(*each, 0, 1);
    }
    for (std::size_t i = 0; i < value.values.size(); ++i)
        value.values[i] /= std::max(weight.values[i], 1e-9);
    return value;
}

Map fine_part(const Map& map, const std::vector<bool>& counts) {
    Map fine = blurred(map, counts, 1.0);
    const Map coarse = blurred(map, counts, 8.0);
    for (std::size_t i = 0; i < fine.values.size(); ++i) fine.values[i] -= coarse.values[i];
    return fine;
}

double correlation(const Map& a, const Map& b, const std::vector<bool>& counts) {
    double n = 0, sa = 0, sb = 0, saa = 0, sbb = 0, sab = 0;
    for (std::size_t i = 0; i < counts.size(); ++i) {
        if (!counts[i]) continue;
        const double x = a.values[i], y = b.values[i];
        n += 1, sa += x, sb += y, saa += x * x, sbb += y * y, sab += x * y;
    }
    return (n * sab - sa * sb) / std::sqrt((n * saa - sa * sa) * (n * sbb - sb * sb));
}

double deviation(const Map& map, const std::vector<bool>& counts) {
    double n = 0, sum = 0, squares = 0;
    for (std::size_t i = 0; i < counts.size(); ++i) {
        if (!counts[i]) continue;
        n += 1, sum += map.values[i], squares += map.values[i] * map.values[i];
    }
    return std::sqrt(squares / n - sum * sum / n / n);
}

/// The mean angle between normals at the scale of heights that makes it least: 50 scales, each 1.11
/// times the one before.
double least_angle_deg(const std::array<Map, 2>& form, const std::array<Map, 2>& relief,
                       const std::vector<bool>& counts) {
    double least = 180.0;
    for (int step = 0; step < 50; ++step) {
        const double scale = 0.3 * std::pow(200.0, step / 49.0);
        double sum = 0.0, n = 0.0;
        for (std::size_t i = 0; i < counts.size(); i += 3) {
            if (!counts[i]) continue;
            const glm::dvec3 a(-form[0].values[i], -form[1].values[i], 1.0);
            const glm::dvec3 b(-scale * relief[0].values[i], -scale * relief[1].values[i], 1.0);
            const double cosine = glm::dot(glm::normalize(a), glm::normalize(b));
            sum += std::acos(std::clamp(cosine, -1.0, 1.0));
            n += 1.0;
        }
        least = std::min(least, sum / n * 180.0 / pi);
    }
    return least;
}

/// The form that is compared with, and what is found of it once for all recipes.
class Form {
public:
    Form(const cli_test::Rendered& rendered, double px_per_mm)
        : px_per_mm_(px_per_mm),
          counts_(inner_pixels(cli_test::read_picture(rendered.folder / "silhouette.png"))),
          slopes_(slopes_of(heights(rendered), px_per_mm)) {
        for (int lamp = 0; lamp < lamps; ++lamp) {
            shades_.push_back(shading(slopes_, lamp));
            fines_.push_back(fine_part(shades_.back(), counts_));
        }
    }

    FormsKept kept(const cli_test::Rendered& rendered) const {
        const auto picture = cli_test::read_picture(rendered.folder / "relief.png");
        const double mm_per_code = rendered.numbers("relief").at("mm_per_code");
        Map height_mm(picture.width, picture.height);
        for (std::size_t i = 0; i < picture.codes.size(); ++i)
            height_mm.values[i] = mm_per_code * picture.codes[i];
        const auto slopes = slopes_of(height_mm, px_per_mm_);
        FormsKept kept;
        for (std::size_t lamp = 0; lamp < shades_.size(); ++lamp) {
            const Map shade = shading(slopes, static_cast<int>(lamp));
            kept.shading += correlation(shade, shades_[lamp], counts_) / lamps;
            const Map fine = fine_part(shade, counts_);
            kept.fine += correlation(fine, fines_[lamp], counts_) / lamps;
            kept.contrast += deviation(fine, counts_) / deviation(fines_[lamp], counts_) / lamps;
        }
        kept.angle_deg = least_angle_deg(slopes_, slopes, counts_);
        return kept;
    }

private:
    static Map heights(const cli_test::Rendered& rendered) {
        const auto picture = cli_test::read_picture(rendered.folder / "depth.png");
        const cli_test::DepthReader reader(rendered.numbers("depth"));
        Map height_mm(picture.width, picture.height);
        for (std::size_t i = 0; i < picture.codes.size(); ++i)
            height_mm.values[i] = -reader.depth_mm(picture.codes[i]);
        return height_mm;
    }

    double px_per_mm_;
    std::vector<bool> counts_;
    std::array<Map, 2> slopes_;
    std::vector<Map> shades_, fines_;
};

cli_test::Rendered render_recipe(const View& view, const fs::path& folder, const std::string& name,
                                 const std::string& layers) {
    cli_test::SceneText scene = view.scene();
    scene.passes = "[pass.depth]\n[pass.silhouette]\n";
    scene.more = "[relief]\nheight_mm = 2.0\n" + layers;
    const std::string file = view.name() + "-" + name;
    fs::create_directories(folder);
    cli_test::write_file(folder / (file + ".toml"), scene.text());
    return cli_test::render(folder / (file + ".toml"), folder / file);
}

std::string rounded(double value, const char* format) {
    char text[32];
    std::snprintf(text, sizeof text, format, value);
    return text;
}

}  // namespace

View relief_view(const Subject& subject, double px_per_mm) {
    const bool demo = subject.name == "ammonite";
    return {subject, 0, false, demo ? 0.0 : 20.0, demo ? 0.0 : 10.0, 0.0, px_per_mm};
}

RecipesCompared compare_recipes(const View& view, const fs::path& folder) {
    const std::string depth = "[[relief.layer]]\nsource = \"depth\"\n";
    const std::string times =
        depth + "[[relief.layer]]\nsource = \"occlusion\"\nmix = \"multiply\"\n";
    const auto alone = render_recipe(view, folder, "depth", depth);
    const Form form(alone, view.px_per_mm);
    return {view.subject.name, form.kept(alone),
            form.kept(render_recipe(view, folder, "times", times)),
            form.kept(render_recipe(view, folder, "usual", ""))};
}

std::vector<Figure> relief_figures(const std::vector<RecipesCompared>& models) {
    const char* const source =
        "the subject's own depth, Lambert's law, eight lamps 20 degrees high";
    Figure shading{"relief", "correlation of shading at 2 mm, more than depth times occlusion has",
                   source,   0,
                   0.05,     true,
                   ""};
    Figure fine{"relief", "the same between 1 and 8 px", source, 0, 0.1, true, ""};
    for (const RecipesCompared& model : models) {
        const auto least = [&](Figure& figure, double gain) {
            if (!figure.where.empty() && gain >= figure.reached) return;
            figure.reached = gain;
            figure.where = model.model;
        };
        least(shading, model.usual.shading - model.times.shading);
        least(fine, model.usual.fine - model.times.fine);
    }
    return {shading, fine};
}

Table relief_table(const std::vector<RecipesCompared>& models) {
    Table table{"Forms that a relief of 2 mm keeps",
                {"model", "depth alone: shading", "fine part", "its contrast", "normals",
                 "times occlusion: shading", "fine part", "its contrast", "normals",
                 "usual recipe: shading", "fine part", "its contrast", "normals"},
                {}};
    for (const RecipesCompared& model : models) {
        Row row{model.model};
        for (const FormsKept* kept : {&model.depth, &model.times, &model.usual}) {
            row.push_back(rounded(kept->shading, "%.3f"));
            row.push_back(rounded(kept->fine, "%.3f"));
            row.push_back(rounded(kept->contrast, "%.2f"));
            row.push_back(rounded(kept->angle_deg, "%.1f deg"));
        }
        table.rows.push_back(row);
    }
    return table;
}

}  // namespace reference
