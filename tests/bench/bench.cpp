// The benchmark: cmake --workflow --preset bench (or bench-large). Ratios within one run, every
// peer beside ours; writes bench.json and bench.md. Never fails for being slow.

#include <cstdio>
#include <cstring>
#include <exception>

#include "machine.hpp"
#include "subject.hpp"

namespace {

using namespace bench;

using Section = void (*)(Bench&);

struct NamedSection {
    const char* name;
    Section measure;
};

// A fast look at whether everything runs; its figures mean nothing.
Sizes quick() {
    Sizes sizes;
    sizes.triangles = 100'000;
    sizes.px_per_mm = 10.0;
    sizes.runs = 2;
    sizes.growth_runs = 1;
    sizes.growth_triangles = {10'000, 30'000, 100'000};
    sizes.growth_mpx = {0.06, 0.25, 1.0};
    return sizes;
}

// What needs minutes and gigabytes.
Sizes large() {
    Sizes sizes;
    sizes.growth_triangles = {100'000, 1'000'000, 10'000'000};
    sizes.growth_mpx = {4.0, 16.0, 100.0};
    sizes.growth_runs = 2;
    sizes.large_only = true;
    return sizes;
}

void note_machine(Bench& bench, const Json& facts) {
    const auto word = [&](const char* key) { return facts[key].get<std::string>(); };
    bench.report.note(word("processor") + ", " + std::to_string(facts["cores"].get<int>()) +
                      " cores, " + text_of(facts["memory_gib"].get<double>(), "GiB") + "; " +
                      word("system"));
    bench.report.note("rakelight " + word("rakelight") + ", drawn by: " + word("drawn_by"));
    bench.report.note(word("libraries") + "; built by " + word("compiler"));
    bench.report.note(
        "Load of the machine before the run: " + text_of(facts["load"].get<double>()) +
        " (an idle one is near 0; figures of a busy one mean little)");
    char subject[160];
    std::snprintf(
        subject, sizeof subject,
        "Subject: a grown ammonite of %d triangles at %.0f x %.0f px, 16 samples a pixel; "
        "medians of %d runs",
        bench.sizes.triangles, blank_width_mm * bench.sizes.px_per_mm,
        blank_height_mm * bench.sizes.px_per_mm, bench.sizes.runs);
    bench.report.note(subject);
    bench.report.keep("machine", facts);
}

void run(Bench& bench) {
    fs::create_directories(bench.folder);
    note_machine(bench, machine_facts());
    std::vector<NamedSection> sections{{"growth", measure_growth}};
    if (!bench.sizes.large_only) {
        sections = {{"process", measure_process}, {"rays", measure_rays},
                    {"import", measure_import},   {"png", measure_png},
                    {"poses", measure_sweep},     {"growth", measure_growth}};
    }
    for (const auto& section : sections) {
        std::fprintf(stderr, "measuring: %s\n", section.name);
        try {
            section.measure(bench);
        } catch (const std::exception& error) {
            std::fprintf(stderr, "%s: %s\n", section.name, error.what());
            bench.report.note(std::string("Left out, the rest of `") + section.name +
                              "`: " + error.what());
        }
        bench.report.write(bench.folder);  // what is there is not lost if the next one breaks
    }
}

}  // namespace

int main(int count, char** words) {
    Bench bench;
    if (count == 3 && std::strcmp(words[2], "--quick") == 0) {
        bench.sizes = quick();
    } else if (count == 3 && std::strcmp(words[2], "--large") == 0) {
        bench.sizes = large();
    } else if (count != 2) {
        std::fprintf(stderr, "use: rakelight_bench FOLDER [--quick | --large]\n");
        return 2;
    }
    bench.folder = fs::absolute(words[1]);
    try {
        run(bench);
    } catch (const std::exception& error) {
        std::fprintf(stderr, "rakelight_bench: %s\n", error.what());
        return 1;
    }
    std::printf("%s", bench.report.markdown().c_str());
    return 0;
}
