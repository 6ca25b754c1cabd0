// How time and memory grow with triangles, with pixels and with the reach of occlusion: whole warm
// processes and their steps, with least-squares fits.

#include <cmath>

#include "fits.hpp"
#include "subject.hpp"

namespace bench {
namespace {

struct Rendered {
    Runs whole;
    Steps steps;
};

Rendered render(const Bench& bench, const fs::path& scene, const Words& more) {
    Rendered result;
    command_cost(bench.render(scene, more));  // fills the cache
    for (int run = 0; run < bench.sizes.growth_runs; ++run) {
        result.whole.add(command_cost(bench.render(scene, more)));
        result.steps.add(last_timings(bench));
    }
    return result;
}

/// Something that grows, point by point.
struct Curve {
    std::string what;
    std::vector<Point> points;
};

// One row a curve: exponent, time per unit, and what does not grow.
Table fit_table(const std::string& title, const std::string& unit,
                const std::vector<Curve>& curves) {
    Table table{title,
                "",
                {"what", "exponent", "time per " + unit, "fixed",
                 "exponent of the last "
                 "two sizes"},
                {}};
    for (const auto& curve : curves) {
        const auto& points = curve.points;
        const Line line = growth_line(points);
        table.rows.push_back({curve.what, text_of(growth_exponent(points)),
                              text_of(1e9 * line.per_unit, "ns"), time_text(line.fixed),
                              text_of(growth_exponent({points.end() - 2, points.end()}))});
    }
    return table;
}

Json json_of(const std::vector<Curve>& curves) {
    Json data = Json::array();
    for (const auto& curve : curves) {
        Json points = Json::array();
        for (const auto& p : curve.points) points.push_back({p.size, p.cost});
        data.push_back({{"what", curve.what},
                        {"exponent", growth_exponent(curve.points)},
                        {"points", points}});
    }
    return data;
}

// No worse than linear: the steepest exponent between the two largest sizes, where nothing that is
// fixed hides a steeper growth.
void add_exponent(Bench& bench, const std::string& what, const Curve& curve) {
    const auto& points = curve.points;
    const double last = growth_exponent({points.end() - 2, points.end()});
    bench.report.add({"growth", what, std::max(growth_exponent(points), last), "", 1.05, false,
                      "the larger of the exponent over all sizes (" +
                          text_of(growth_exponent(points)) + ") and that of the last two (" +
                          text_of(last) + ")"});
}

void grow_triangles(Bench& bench) {
    Curve import{"cold import, whole process", {}}, whole{"warm render, whole process", {}};
    Curve raster{"raster", {}}, load{"mesh from the cache", {}}, memory{"import's memory", {}};
    Table table{"Triangles",
                "1200 x 2000 px unless the machine says otherwise; median (least).",
                {"triangles", "cold import", "its peak", "flat mesh", "warm render", "its peak",
                 "raster", "mesh from the cache"},
                {}};
    for (const int triangles : bench.sizes.growth_triangles) {
        const fs::path model = bench.model(triangles);
        const Runs cold =
            in_turn(bench.sizes.growth_runs,
                    {[&] { return command_cost(bench.inspect(model, {"--no-cache"})); }})[0];
        const double mib = flat_mib(bench, model);
        const Rendered warm = render(bench, bench.scene(triangles), {});
        import.points.push_back({1.0 * triangles, cold.median_s()});
        whole.points.push_back({1.0 * triangles, warm.whole.median_s()});
        raster.points.push_back({1.0 * triangles, warm.steps.median("raster_s")});
        load.points.push_back({1.0 * triangles, warm.steps.median("load_s")});
        memory.points.push_back({mib, cold.peak_mib()});
        table.rows.push_back(
            {std::to_string(triangles), time_text(cold), text_of(cold.peak_mib(), "MiB"),
             text_of(mib, "MiB"), time_text(warm.whole), text_of(warm.whole.peak_mib(), "MiB"),
             time_text(warm.steps.median("raster_s")), time_text(warm.steps.median("load_s"))});
        if (triangles >= 10'000'000) {
            bench.report.add({"memory", "10 M triangles, import or render",
                              std::max(cold.peak_mib(), warm.whole.peak_mib()), "MiB", 3072.0,
                              false, "the largest process"});
        }
    }
    const Line line = growth_line(memory.points);
    bench.report.add(
        {"memory", "import, bytes per byte of flat mesh", line.per_unit, "", 3.0, false,
         "slope of the peaks below; " + text_of(line.fixed, "MiB") + " do not grow with the mesh"});
    add_exponent(bench, "import by triangles", import);
    add_exponent(bench, "warm render by triangles", whole);
    bench.report.add(table);
    bench.report.add(fit_table("Fits by triangles", "triangle", {import, whole, raster, load}));
    bench.report.keep("growth_triangles", json_of({import, whole, raster, load, memory}));
}

std::string megapixels(double mpx) {
    return text_of(mpx, "Mpx");
}

void grow_pixels(Bench& bench) {
    const fs::path scene = bench.scene();
    const std::vector<std::string> names{"raster_s", "occlusion_s", "curvature_s", "encode_s",
                                         "write_s"};
    Curve whole{"warm render, whole process", {}}, memory{"render's memory", {}};
    std::vector<Curve> steps;
    for (const auto& name : names) steps.push_back({name.substr(0, name.size() - 2), {}});
    Table table{"Pixels",
                "The mesh of the main figures, warm renders; median (least).",
                {"picture", "whole process", "its peak", "raster", "occlusion", "curvature",
                 "encode", "write"},
                {}};
    for (const double mpx : bench.sizes.growth_mpx) {
        const double px_per_mm = std::sqrt(1e6 * mpx / (blank_width_mm * blank_height_mm));
        const Rendered warm =
            render(bench, scene, {"--set", "image.px_per_mm=" + std::to_string(px_per_mm)});
        const double pixels = 1e6 * mpx;
        whole.points.push_back({pixels, warm.whole.median_s()});
        memory.points.push_back({mpx, warm.whole.peak_mib()});
        std::vector<std::string> row{megapixels(mpx), time_text(warm.whole),
                                     text_of(warm.whole.peak_mib(), "MiB")};
        for (std::size_t i = 0; i < names.size(); ++i) {
            const double seconds = warm.steps.median(names[i]);
            steps[i].points.push_back({pixels, std::max(seconds, 1e-9)});
            row.push_back(time_text(seconds));
        }
        table.rows.push_back(row);
        if (mpx >= 100.0) {
            bench.report.add({"memory", "100 Mpx, all passes", warm.whole.peak_mib(), "MiB", 2048.0,
                              false, "the largest process"});
        }
    }
    const Line line = growth_line(memory.points);
    bench.report.add({"memory", "render, MiB per megapixel", line.per_unit, "", std::nullopt, false,
                      "slope of the peaks below; " + text_of(line.fixed, "MiB") +
                          " do not grow with the picture"});
    add_exponent(bench, "warm render by pixels", whole);
    bench.report.add(table);
    std::vector<Curve> curves{whole};
    curves.insert(curves.end(), steps.begin(), steps.end());
    bench.report.add(fit_table("Fits by pixels", "pixel", curves));
    bench.report.keep("growth_pixels", json_of(curves));
}

void grow_reach(Bench& bench) {
    Curve curve{"occlusion by reach", {}};
    Table table{"Reach of occlusion",
                "The occlusion step of warm renders.",
                {"reach", "pixels", "step", "of the shortest reach"},
                {}};
    for (const double share : bench.sizes.growth_reach) {
        const double reach_mm = share * blank_width_mm;
        const Rendered warm = render(
            bench, bench.scene(), {"--set", "pass.occlusion.reach_mm=" + std::to_string(reach_mm)});
        const double seconds = warm.steps.median("occlusion_s");
        curve.points.push_back({reach_mm, seconds});
        table.rows.push_back({text_of(100.0 * share, "%"),
                              text_of(reach_mm * bench.sizes.px_per_mm, "px"), time_text(seconds),
                              text_of(seconds / curve.points.front().cost, "x")});
    }
    const auto& points = curve.points;
    bench.report.add(
        {"growth", "occlusion by reach, exponent", growth_exponent(points), "", std::nullopt, false,
         text_of(points.back().size / points.front().size) + " times the reach takes " +
             text_of(points.back().cost / points.front().cost) + " times the time"});
    bench.report.add(table);
    bench.report.keep("growth_reach", json_of({curve}));
}

}  // namespace

void measure_growth(Bench& bench) {
    grow_triangles(bench);
    grow_pixels(bench);
    if (!bench.sizes.large_only) grow_reach(bench);
}

}  // namespace bench
