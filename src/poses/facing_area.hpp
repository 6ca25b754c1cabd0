#pragma once
// Private to poses/: how much picture a model's surface would cover if nothing hid anything.

#include <cstdint>
#include <vector>

#include "framing/camera.hpp"
#include "model/mesh.hpp"

namespace rakelight {

/// Areas on the blank of a model's triangles, each for itself, whether another hides it or not.
struct FacingArea {
    double front_mm2 = 0.0;  ///< of those that face the viewer, by their winding
    double back_mm2 = 0.0;   ///< of those that face away

    /// The surface that faces the viewer. On a closed solid both sums are one. Of open sheets
    /// either side may be seen, whichever way they are wound: what the larger sum has over the
    /// smaller has no counterpart behind or before it, so it is sheets.
    double surface_mm2() const { return front_mm2 > back_mm2 ? front_mm2 : back_mm2; }
};

/// What of a model's surface faces a viewer, asked for many poses. Runs of neighbouring triangles
/// that face about the same way are kept as one: seen from where all of them face the viewer, or
/// all away, a run's area is that of its sum.
class FacingSurface {
public:
    /// @param used  one flag per part
    FacingSurface(Mesh mesh, std::vector<bool> used);

    /// Exact but for rounding, in both projections. The sums are the same for any number of
    /// threads.
    /// @param frame  null: all of the subject lies in the picture; else only what lies in it counts
    FacingArea area(const Camera& camera, const ImageGrid* frame) const;

    /// Where a picture decides what is surface and what is not, triangles do not tell how much
    /// there is.
    bool has_cut_outs() const;

private:
    struct Run {
        std::uint32_t part;
        std::uint32_t first, end;  ///< triangles of the part
        glm::dvec3 area_units2;    ///< sum of the triangles' areas times their normals
        glm::dvec3 axis;           ///< unit: about where they face
        double sine;               ///< of the largest angle to it; above 1: a quarter turn or more
        Bounds bounds;             ///< model units
    };
    void measure(Run& run) const;
    template <typename AddRun>
    FacingArea summed(const AddRun& add_run) const;
    template <typename Area>
    void add_triangles(const Run& run, const Area& area_mm2, FacingArea& sum) const;

    Mesh mesh_;
    std::vector<bool> used_;
    std::vector<Run> runs_;
};

}  // namespace rakelight
