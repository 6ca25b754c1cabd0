#pragma once
// What the relief hides of closed shells: all crossings of a line of sight, by the winding number.

#include "form_scene.hpp"

namespace reference {

/// A pixel's samples, each looked through.
struct TracedGaps {
    int covered = 0;        ///< samples
    int with_hidden = 0;    ///< samples that have something hidden
    int layers = 0;         ///< hidden surfaces, over all samples
    bool sound = true;      ///< no line of sight ran along an edge, where windings do not add up
    double empty_mm = 0.0;  ///< mean over the covered samples
    double slope = 0.0;     ///< largest of all that was crossed
    /// Of one kind throughout: every sample is covered and has the same number of gaps.
    bool even(int samples) const {
        return sound && covered == samples && layers % samples == 0 &&
               (with_hidden == 0 || with_hidden == samples);
    }
};

struct GapPicture {
    int width = 0, height = 0, samples = 16;
    std::vector<TracedGaps> pixels;
    const TracedGaps& at(int x, int y) const {
        return pixels[static_cast<std::size_t>(y) * width + x];
    }
    /// It and its eight neighbours are even and have as many gaps.
    bool inner(int x, int y) const;
};

/// Traces the form as see() has rendered it.
GapPicture trace_gaps(const SeenForm& seen, const fs::path& model, double least_mm);

}  // namespace reference
