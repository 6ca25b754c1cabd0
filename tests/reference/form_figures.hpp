#pragma once
// Figures on forms that have closed formulas: curvature, and occlusion without noise or halo.

#include "figures.hpp"

namespace reference {

namespace fs = std::filesystem;

/// How much is done: pixels per mm, and how many scales, reaches and poses.
struct FormEffort {
    double px_per_mm = 20.0;
    std::vector<double> scales_mm{0.1, 0.25, 0.6};
};

/// @param folder  for the models and pictures
std::vector<Figure> curvature_figures(const fs::path& folder, const FormEffort& effort);
std::vector<Figure> smoothness_figures(const fs::path& folder, const FormEffort& effort);
/// Averages of finer pictures, models turned against the camera, mirrored models.
std::vector<Figure> law_figures(const fs::path& folder, double px_per_mm);
/// Chunks of every kind of PNG that the command writes, and pngcheck where it is installed.
std::vector<Figure> file_figures(const fs::path& folder);

}  // namespace reference
