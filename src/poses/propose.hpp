#pragma once
// Poses worth trying, found by looking at a model from all around; docs/poses.md says what is
// measured, from what source, and what it cannot know.

#include <cstddef>
#include <vector>

#include "batch/job.hpp"

namespace rakelight {

/// The parts of a view's score, each 0 to 1; more is better.
struct ViewScore {
    double area = 0.0;      ///< of the silhouette, all views at one scale
    double fill = 0.0;      ///< of the field, as it is fitted
    double seen = 0.0;      ///< 1 less hidden_share
    double form = 0.0;      ///< entropy of the directions that the surface faces
    double outline = 0.0;   ///< length of the silhouette's outline, all views at one scale
    double evenness = 0.0;  ///< of depth, as far as there is any
    double crevices = 0.0;
    double outlook = 0.0;  ///< from the front and a little above

    /// The weighted mean.
    double total() const;
};

struct Proposal {
    PoseCandidate
        candidate;       ///< "proposal-01" is the best; projection, view_deg, zoom as the scene
    double score = 0.0;  ///< ViewScore::total()
    ViewScore parts;
};

struct ProposalOptions {
    std::size_t count = 12;        ///< at most; fewer where the model has no more different views
    std::size_t directions = 150;  ///< evenly spread; ten usual views come besides
    int longer_px = 160;           ///< of the pictures that are judged
    double apart_deg = 30.0;       ///< between two proposals' view axes, where that leaves enough
    std::size_t at_once = 0;       ///< views at work at a time; 0: as many as suit the machine
};

/// The poses that are looked at: front, right, back, left, top, foot, the four between the first
/// four, and a Fibonacci lattice of directions over the sphere (Gonzalez 2010, "Measurement of
/// areas on a sphere using Fibonacci and latitude-longitude lattices"), in whole degrees. Up stays
/// up; nearer than 15 degrees to straight above or below, the picture is rolled so that the model's
/// right stays on the right.
/// @param scene  gives projection and view_deg
std::vector<PoseSettings> view_poses(const Scene& scene, std::size_t directions);

/// The best of the views that differ from each other, best first. Drawn by the processor, so that
/// every machine proposes the same; in every bit the same for any number of threads.
/// Throws Error(unusable_picture) when nothing can be seen from anywhere, and what a scene that is
/// wrong for every pose throws.
std::vector<Proposal> propose_poses(const LoadedScene& loaded, const ProposalOptions& options = {});

}  // namespace rakelight
