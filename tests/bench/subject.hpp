#pragma once
// What is measured: a grown ammonite on a rectangular blank of 30 x 50 mm, and the commands that
// work on it.

#include <filesystem>

#include "batch/job.hpp"
#include "measuring.hpp"
#include "report.hpp"

namespace bench {

namespace fs = std::filesystem;

struct Sizes {
    int triangles = 1'000'000;
    double px_per_mm = 40.0;  ///< of 30 x 50 mm: 1200 x 2000 px
    int runs = 5;             ///< of the main figures
    int growth_runs = 3;
    std::vector<int> growth_triangles{10'000, 100'000, 1'000'000};
    std::vector<double> growth_mpx{0.25, 1.0, 4.0, 16.0};
    std::vector<double> growth_reach{0.01, 0.03, 0.1, 0.2, 0.3};  ///< of the shorter side
    bool large_only = false;                                      ///< the largest sizes alone
};

inline constexpr double blank_width_mm = 30.0, blank_height_mm = 50.0;

/// One run of the benchmark.
struct Bench {
    fs::path folder;
    Sizes sizes;
    Report report;

    fs::path cache() const { return folder / "cache"; }
    fs::path out() const { return folder / "out"; }
    /// Grows the model where it is missing.
    fs::path model(int triangles) const;
    /// Writes the scene of a model: all passes, 16 samples a pixel.
    fs::path scene(int triangles) const;
    fs::path scene() const { return scene(sizes.triangles); }

    /// A warm render of all passes without the proof.
    Words render(const fs::path& scene, const Words& more = {}) const;
    Words inspect(const fs::path& model, const Words& more) const;
};

/// The size of the flat mesh that a model becomes.
double flat_mib(const Bench& bench, const fs::path& model);

/// The scene as the command prepares it, the mesh from the cache.
rakelight::PreparedScene prepared(const Bench& bench, const fs::path& scene);
/// What the scene asks for, less all passes but depth and normal.
rakelight::RenderRequest bare_request(const rakelight::PreparedScene& scene);

/// Numbers under names, run by run.
class Steps {
public:
    void add(const Json& step_of_name) { runs_.push_back(step_of_name); }
    double median(const std::string& name) const;
    Json json() const;  ///< the median of each
    bool empty() const { return runs_.empty(); }

private:
    std::vector<Json> runs_;
};

/// timings.json of the last render.
Json last_timings(const Bench& bench);

/// The sections; each adds to the report.
void measure_process(Bench& bench);
void measure_rays(Bench& bench);
void measure_import(Bench& bench);
void measure_png(Bench& bench);
void measure_sweep(Bench& bench);
void measure_growth(Bench& bench);

}  // namespace bench
