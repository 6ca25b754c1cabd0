#pragma once
// How much of a subject's forms a relief of 2 mm keeps, by how both look under a low lamp.

#include "figures.hpp"
#include "subjects.hpp"

namespace reference {

/// A relief beside the form that it was made from.
struct FormsKept {
    double shading = 0.0;    ///< correlation of shading, the mean over eight lamps 20 degrees high
    double fine = 0.0;       ///< the same of what lies between Gaussians of 1 and of 8 px
    double contrast = 0.0;   ///< of that part, as a share of the form's own
    double angle_deg = 0.0;  ///< between normals, the mean, once the heights are scaled at best
};

/// By depth alone, by depth times occlusion, and by the usual recipe.
struct RecipesCompared {
    std::string model;
    FormsKept depth, times, usual;
};

RecipesCompared compare_recipes(const View& view, const fs::path& folder);

/// The view that recipes are compared in: a little from above and from the side.
View relief_view(const Subject& subject, double px_per_mm);

/// The least gain over depth times occlusion.
std::vector<Figure> relief_figures(const std::vector<RecipesCompared>& models);
Table relief_table(const std::vector<RecipesCompared>& models);

}  // namespace reference
