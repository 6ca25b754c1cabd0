// Many poses in one command: how many a second, beside what raster and occlusion alone allow, and
// whether memory grows with their number.

#include "poses/sweep.hpp"

#include "floors.hpp"
#include "render/device_renderer.hpp"
#include "subject.hpp"

namespace bench {
namespace {

// Yaw from -44.5 on, so many poses.
std::string yaws(int count) {
    const double step = 90.0 / count;
    return "--yaw=" + std::to_string(-45.0 + 0.5 * step) + ".." + std::to_string(45.0) + "/" +
           std::to_string(step);
}

Words sweep(const Bench& bench, int poses, const Words& more) {
    Words words{RAKELIGHT_COMMAND,
                "poses",
                bench.scene().string(),
                "--quiet",
                "--again",
                yaws(poses),
                "--out",
                (bench.folder / "poses").string(),
                "--cache-folder",
                bench.cache().string()};
    words.insert(words.end(), more.begin(), more.end());
    return words;
}

struct Rates {
    int poses;
    int longer_px;  // 0: the scene's own
    std::string size;
};

// Seconds of raster, read-back and occlusion of a pose, each alone on all cores: the mean of a few
// of the sweep's poses.
double floor_s(const Bench& bench, const Rates& rates) {
    constexpr int tried = 6;
    const Json sum = in_child([&] {
        rakelight::LoadOptions load;
        load.cache.folder = bench.cache();
        const auto loaded = rakelight::load_scene(rakelight::read_scene(bench.scene()), load);
        rakelight::DeviceRenderer renderer(rakelight::DeviceChoice::automatic);
        renderer.set_mesh(loaded.mesh, loaded.used);
        double seconds = 0.0;
        for (int i = -1; i < tried; ++i) {  // the first warms up
            rakelight::PoseCandidate candidate{"", loaded.scene.pose, loaded.scene.framing.zoom};
            candidate.pose.yaw_deg = -45.0 + 90.0 * (i + 0.5) / tried;
            const auto scene = rakelight::prepare_pose(
                loaded, candidate, rakelight::sweep_px_per_mm(loaded.scene, rates.longer_px));
            const Json one = render_floors(renderer, scene);
            if (i < 0) continue;
            for (const char* step : {"raster_s", "read_back_s", "occlusion_s"})
                seconds += one[step].get<double>();
        }
        return Json{{"s", seconds / tried}};
    });
    return sum["s"];
}

void measure_rates(Bench& bench, const Rates& rates, double reach_per_s) {
    const std::string px = std::to_string(rates.longer_px);
    fs::remove_all(bench.folder / "poses");
    const Cost all = command_cost(sweep(bench, rates.poses, {"--passes", "--longer-px", px}));
    const double per_s = rates.poses / all.wall_s;
    const double allowed_per_s = 1.0 / floor_s(bench, rates);
    const std::string what = rates.size + ", all passes, figures, relief and page";
    bench.report.add({"poses", "poses a second, " + what, per_s, "1/s", reach_per_s, true,
                      std::to_string(rates.poses) + " poses in " + time_text(all.wall_s) +
                          ", processor time " + time_text(all.cpu_s) + ", peak " +
                          text_of(all.peak_mib, "MiB")});
    bench.report.add({"poses", "the same / what raster and occlusion alone allow",
                      per_s / allowed_per_s, "x", 0.8, true,
                      text_of(per_s, "1/s") + " against " + text_of(allowed_per_s, "1/s")});
    bench.report.keep("poses " + rates.size, {{"poses", rates.poses},
                                              {"wall_s", all.wall_s},
                                              {"cpu_s", all.cpu_s},
                                              {"peak_mib", all.peak_mib},
                                              {"allowed_per_s", allowed_per_s}});
}

void measure_memory(Bench& bench) {
    const Words small{"--longer-px", "775", "--best", "12", "--by", "field_share"};
    fs::remove_all(bench.folder / "poses");
    const Cost few = command_cost(sweep(bench, 100, small));
    fs::remove_all(bench.folder / "poses");
    const Cost many = command_cost(sweep(bench, 1000, small));
    bench.report.add({"poses", "peak memory of 1,000 poses / of 100", many.peak_mib / few.peak_mib,
                      "x", 1.05, false,
                      text_of(many.peak_mib, "MiB") + " against " + text_of(few.peak_mib, "MiB") +
                          ", the page of the best 12"});
    bench.report.keep("poses memory", {{"few_mib", few.peak_mib}, {"many_mib", many.peak_mib}});
}

}  // namespace

void measure_sweep(Bench& bench) {
    // 465 x 775 px are as many pixels as 600 x 600.
    measure_rates(bench, {100, 775, "465 x 775 px"}, 5.0);
    measure_rates(bench, {20, 0, "1200 x 2000 px"}, 1.0);
    measure_memory(bench);
}

}  // namespace bench
