// The whole process against the sum of its floors, the raster against bare OpenGL, and start-up.

#include "bare_raster.hpp"
#include "batch/tasks.hpp"
#include "floors.hpp"
#include "image/png.hpp"
#include "passes_read.hpp"
#include "render/device_renderer.hpp"
#include "subject.hpp"

namespace bench {
namespace {

using rakelight::PreparedScene;

double png_floor(const std::vector<WrittenPass>& passes) {
    std::vector<std::function<void()>> tasks;
    for (const auto& pass : passes) {
        tasks.emplace_back([&pass] { rakelight::encode_png(pass.codes, {}); });
    }
    return cost_here([&] { rakelight::run_tasks(tasks); }).wall_s;
}

Json floors(const Bench& bench) {
    return in_child([&] {
        const PreparedScene scene = prepared(bench, bench.scene());
        const auto passes = written_passes(bench.out());
        rakelight::DeviceRenderer renderer(rakelight::DeviceChoice::automatic);
        renderer.set_mesh(scene.mesh, scene.used);
        render_floors(renderer, scene);  // warms up
        Json one = render_floors(renderer, scene);
        png_floor(passes);
        one["png_s"] = png_floor(passes);
        return one;
    });
}

struct Process {
    Runs whole;
    Steps floors, steps;
};

Process process_and_floors(const Bench& bench) {
    Process process;
    command_cost(bench.render(bench.scene()));  // fills the cache
    for (int run = 0; run < bench.sizes.runs; ++run) {
        process.whole.add(command_cost(bench.render(bench.scene())));
        process.steps.add(last_timings(bench));
        process.floors.add(floors(bench));
    }
    return process;
}

void add_step_table(Bench& bench, const Process& process) {
    Table table{"Where the process's time goes",
                "Medians. A step's share of the whole; alone: its floor, the same work by the "
                "library in a warm process.",
                {"step", "in the process", "share", "alone"},
                {}};
    const double whole_s = process.whole.median_s();
    double rest_s = whole_s;
    Json steps = process.steps.json();
    const Json alone = process.floors.json();
    // Depth and curvature are compressed under write, since they wait for the whole picture: only
    // both together have a floor.
    steps["encode and write_s"] = steps["encode_s"].get<double>() + steps["write_s"].get<double>();
    steps.erase("encode_s");
    steps.erase("write_s");
    for (const auto& [name, value] : steps.items()) {
        const double seconds = value;
        rest_s -= seconds;
        const std::string floor_name = name == "encode and write_s" ? "png_s" : name;
        table.rows.push_back(
            {name.substr(0, name.size() - 2), time_text(seconds),
             text_of(100.0 * seconds / whole_s, "%"),
             alone.contains(floor_name) ? time_text(alone[floor_name].get<double>()) : "-"});
    }
    table.rows.push_back({"the rest: start-up, the scene, committing the files, exit",
                          time_text(rest_s), text_of(100.0 * rest_s / whole_s, "%"), "-"});
    bench.report.add(table);
}

void measure_bare_raster(Bench& bench, const Process& process) {
    const Json peer =
        in_child([&] { return bare_gl_raster(prepared(bench, bench.scene()), bench.sizes.runs); });
    Steps steps;
    for (const auto& run : peer["runs"]) steps.add(run);
    const double ours_s = process.floors.median("raster_s") + process.floors.median("read_back_s");
    bench.report.add({"render", "raster of depth and normal, ours / bare OpenGL",
                      ours_s / steps.median("all_s"), "x", std::nullopt, false,
                      time_text(ours_s) + " against " + time_text(steps.median("all_s")) +
                          " (draw " + time_text(steps.median("draw_s")) + ", mean of 16 samples " +
                          time_text(steps.median("resolve_s")) + ", read-back " +
                          time_text(steps.median("read_s")) + "), " +
                          by_cpu(process.floors.median("surface_cpu_s"), steps.median("cpu_s")) +
                          "; ours also makes coverage, and "
                          "each pixel's lowest and highest sample"});
    bench.report.note("OpenGL peer: " + peer["driver"].get<std::string>());
    bench.report.keep("bare_raster", peer);
}

// The command's own other way to draw: what a machine without a GPU would pay for using a driver.
void measure_opengl(Bench& bench, double ours_s) {
    const int runs = std::min(bench.sizes.runs, 2);
    const Runs opengl =
        in_turn(runs, {[&] {
                    return command_cost(bench.render(bench.scene(), {"--context", "egl"}));
                }})[0];
    bench.report.add(
        {"render", "the same process with `--context egl` / without", opengl.median_s() / ours_s,
         "x", std::nullopt, false,
         time_text(opengl.median_s()) + ", peak memory " + text_of(opengl.peak_mib(), "MiB")});
    bench.report.keep("opengl", opengl.json());
}

void measure_start(Bench& bench) {
    Runs start = in_turn(20, {[] { return command_cost({RAKELIGHT_COMMAND, "--version"}); }})[0];
    bench.report.add({"start-up", "`--version`", 1e3 * start.median_s(), "ms", 20.0, false,
                      "least " + time_text(start.least_s())});
    bench.report.keep("start", start.json());
}

}  // namespace

void measure_process(Bench& bench) {
    const Process process = process_and_floors(bench);
    const double whole_s = process.whole.median_s();
    const double floor_s = process.floors.median("raster_s") +
                           process.floors.median("occlusion_s") +
                           process.floors.median("read_back_s");
    bench.report.add({"render", "whole warm process / its raster, occlusion and read-back floors",
                      whole_s / floor_s, "x", 1.5, false,
                      time_text(whole_s) + " against " + time_text(floor_s)});
    const double floor_cpu_s =
        process.floors.median("surface_cpu_s") + process.floors.median("occlusion_cpu_s");
    bench.report.add(
        {"render", "the same by processor time, which a busy machine changes less",
         process.whole.median_cpu_s() / floor_cpu_s, "x", std::nullopt, false,
         time_text(process.whole.median_cpu_s()) + " against " + time_text(floor_cpu_s)});
    bench.report.add({"render", "whole warm process, all passes, no proof", whole_s, "s", 1.0,
                      false,
                      "least " + time_text(process.whole.least_s()) + ", processor time " +
                          time_text(process.whole.median_cpu_s())});
    bench.report.add({"render", "its peak memory", process.whole.peak_mib(), "MiB", std::nullopt,
                      false, "resident"});
    add_step_table(bench, process);
    bench.report.keep("process", {{"whole", process.whole.json()},
                                  {"steps", process.steps.json()},
                                  {"floors", process.floors.json()}});
    measure_start(bench);
    measure_bare_raster(bench, process);
    measure_opengl(bench, whole_s);
}

}  // namespace bench
