#pragma once
// One view, rendered by the command and traced: how far the pictures are from what was traced.

#include <nlohmann/json.hpp>

#include "subjects.hpp"
#include "traced_picture.hpp"

namespace reference {

struct DepthFigures {
    std::size_t visible = 0;        ///< pixels that the subject covers at all
    std::size_t compared = 0;       ///< of them away from edges
    double within = 1.0;            ///< share of compared within one code and the sampling term
    double within_a_code = 1.0;     ///< share of compared within one code alone
    double most_codes = 0.0;        ///< largest error, codes
    double nearly_all_codes = 0.0;  ///< the error that 99.9 % do not exceed, codes
};

struct AreaFigures {
    double picture_px = 0.0, traced_px = 0.0;
    double error() const { return std::abs(picture_px - traced_px) / traced_px; }
};

struct PartFigures {
    std::size_t parts = 0;
    std::size_t compared = 0;  ///< pixels away from edges and from other parts
    std::size_t wrong = 0;
};

/// Sums over pixels of pairs (picture, traced), so that views can be put together.
struct Agreement {
    double count = 0, sum_a = 0, sum_b = 0, sum_aa = 0, sum_bb = 0, sum_ab = 0;
    void add(double a, double b);
    void add(const Agreement& other);
    double rmse() const;
    double bias() const;         ///< mean of picture less traced
    double correlation() const;  ///< Pearson's
    double spread() const;       ///< standard deviation of what was traced
};

struct OcclusionFigures {
    Agreement whole;     ///< the pass and the whole mesh
    Agreement height;    ///< the pass and the visible height surface alone
    Agreement hidden;    ///< the height surface and the whole mesh: what no single layer can know
    Agreement layered;   ///< two traced layers and the whole mesh; parallel only
    Agreement inner;     ///< as height, away from edges
    double noise = 0.0;  ///< of what was traced, rms
};

struct ViewFigures {
    View view;
    DepthFigures depth;
    AreaFigures area;
    PartFigures parts;
    OcclusionFigures occlusion;
};

/// What pixels show, for pictures of differences. NaN: nothing was compared there.
struct Maps {
    int width = 0, height = 0;
    std::vector<double> depth_codes;  ///< depth less traced, codes
    std::vector<double> occlusion, whole, height_surface;
};

struct Effort {
    int occlusion_grid_px = 4;  ///< occlusion is traced at every so-manieth pixel each way
    bool trace_occlusion = true;
    int layers = 0;         ///< known to LayeredGrid, 1 or 2; 0: not asked
    double shift_px = 0.0;  ///< of what is traced, to spoil the comparison
};

/// Renders the view into a folder and compares.
/// @param maps  filled where it is not null
ViewFigures compare(const View& view, const fs::path& folder, const Effort& effort,
                    Maps* maps = nullptr);

nlohmann::json to_json(const ViewFigures& figures);

}  // namespace reference
