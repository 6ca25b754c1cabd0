// The benchmark: one million triangles at 1200 x 2000 pixels, all passes, as a whole process, beside
// its peers in the same run. Prints a table and writes bench.json. Never fails for being slow.

#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <assimp/Importer.hpp>
#include <assimp/postprocess.h>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <functional>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

namespace {

namespace fs = std::filesystem;
using Json = nlohmann::ordered_json;

constexpr int runs = 5;

struct Cost {
    double wall_s = 0.0;
    double peak_mib = 0.0;
};

// Runs the work in a child; the peak memory is the largest single process below it.
Cost cost_of(const std::function<void()>& work) {
    const auto start = std::chrono::steady_clock::now();
    const pid_t child = fork();
    if (child == 0) {
        work();
        _exit(0);
    }
    int status = 0;
    rusage usage{};
    wait4(child, &status, 0, &usage);
    if (status != 0) {
        std::fprintf(stderr, "a benchmarked command failed\n");
        std::exit(1);
    }
    const auto end = std::chrono::steady_clock::now();
    return {std::chrono::duration<double>(end - start).count(),
            static_cast<double>(usage.ru_maxrss) / 1024.0};
}

Cost median_of(const std::function<void()>& work) {
    std::vector<Cost> costs;
    for (int i = 0; i < runs; ++i) costs.push_back(cost_of(work));
    std::sort(costs.begin(), costs.end(),
              [](const Cost& a, const Cost& b) { return a.wall_s < b.wall_s; });
    return costs[runs / 2];
}

void execute(const std::vector<std::string>& words) {
    std::vector<char*> arguments;
    for (const auto& word : words) arguments.push_back(const_cast<char*>(word.c_str()));
    arguments.push_back(nullptr);
    execv(arguments[0], arguments.data());
    std::perror(arguments[0]);
    _exit(127);
}

void write_scene(const fs::path& path) {
    std::ofstream(path) << "[blank]\nshape = \"rectangle\"\nwidth_mm = 30\nheight_mm = 50\n"
                           "[model]\nfile = \"million.ply\"\n"
                           "[pose]\nroll_deg = 90\n"
                           "[framing]\nmargin_mm = 0\nzoom = 1.3\n"
                           "[image]\npx_per_mm = 40\nsamples = 4\n";
}

Cost bare_import(const fs::path& model) {
    return median_of([&] {
        Assimp::Importer importer;
        if (importer.ReadFile(model.string(), aiProcess_Triangulate) == nullptr) _exit(1);
    });
}

struct Row {
    std::string what;
    std::string figure;
    std::string budget;
    bool met;
};

std::string number(double value, const char* unit) {
    char text[48];
    std::snprintf(text, sizeof text, "%.2f %s", value, unit);
    return text;
}

void report(const std::vector<Row>& rows, const fs::path& folder) {
    std::printf("\n| what | figure | budget | met |\n|---|---|---|---|\n");
    Json json = Json::array();
    for (const auto& row : rows) {
        std::printf("| %s | %s | %s | %s |\n", row.what.c_str(), row.figure.c_str(),
                    row.budget.c_str(), row.met ? "yes" : "no");
        json.push_back(
            {{"what", row.what}, {"figure", row.figure}, {"budget", row.budget}, {"met", row.met}});
    }
    std::ofstream(folder / "bench.json") << json.dump(2) << "\n";
}

}  // namespace

int main(int argc, char** argv) {
    if (argc != 2) {
        std::fprintf(stderr, "usage: rakelight_bench FOLDER\n");
        return 2;
    }
    const fs::path folder = argv[1];
    const fs::path model = folder / "million.ply";
    const fs::path scene = folder / "million.toml";
    fs::create_directories(folder);
    cost_of([&] { execute({GROW_COMMAND, model.string(), "--triangles", "1000000"}); });
    write_scene(scene);
    const std::vector<std::string> render{RAKELIGHT_COMMAND, "render",  scene.string(),
                                          "--quiet",         "--out",   (folder / "out").string(),
                                          "--cache-folder",  (folder / "cache").string()};
    const auto with = [](std::vector<std::string> words, const std::vector<std::string>& more) {
        words.insert(words.end(), more.begin(), more.end());
        return words;
    };
    const std::vector<std::string> inspect{RAKELIGHT_COMMAND, "inspect", model.string(), "--json"};
    const std::vector<std::string> cached{"--cache-folder", (folder / "cache").string()};

    cost_of([&] { execute(render); });  // fills the cache
    const Cost warm = median_of([&] { execute(render); });
    const Cost no_proof = median_of([&] { execute(with(render, {"--no-proof"})); });
    const Cost cold = median_of([&] { execute(with(inspect, {"--no-cache"})); });
    const Cost hit = median_of([&] { execute(with(inspect, cached)); });
    const Cost bare = bare_import(model);
    const Cost start = median_of([&] { execute({RAKELIGHT_COMMAND, "--version"}); });

    const double peak = std::max({warm.peak_mib, cold.peak_mib});
    report({{"warm render, all passes and proof", number(warm.wall_s, "s"), "2 s", warm.wall_s <= 2.0},
            {"the same without the proof", number(no_proof.wall_s, "s"), "2 s",
             no_proof.wall_s <= 2.0},
            {"cold import / bare Assimp on the same file", number(cold.wall_s / bare.wall_s, "x"),
             "2 x", cold.wall_s <= 2.0 * bare.wall_s},
            {"bare Assimp / mesh from the cache", number(bare.wall_s / hit.wall_s, "x"), "-", true},
            {"peak memory of any process", number(peak, "MiB"), "1536 MiB", peak <= 1536.0},
            {"start-up (--version)", number(1e3 * start.wall_s, "ms"), "-", true}},
           folder);
    return 0;
}
