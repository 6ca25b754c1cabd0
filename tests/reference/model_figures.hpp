#pragma once
// Figures over many views of many models, worst model first.

#include "comparison.hpp"
#include "figures.hpp"

namespace reference {

/// All views of one model in one projection.
struct ModelFigures {
    std::string model;
    bool perspective = false;
    std::vector<ViewFigures> views;

    std::string name() const { return model + (perspective ? ", perspective" : ", parallel"); }
    Agreement pooled(Agreement OcclusionFigures::*which) const;
    /// Share of the compared pixels, of all views together.
    double depth_within() const;
    double largest_area_error() const;
    /// The view that differs most.
    const View& worst(Agreement OcclusionFigures::*which) const;
    const View& worst_depth() const;
};

/// Views sorted to their models.
std::vector<ModelFigures> by_model(const std::vector<ViewFigures>& views);

std::vector<Figure> model_figures(const std::vector<ModelFigures>& models);
Table model_table(const std::vector<ModelFigures>& models);

/// The model whose pooled error is largest.
const ModelFigures& worst_model(const std::vector<ModelFigures>& models,
                                Agreement OcclusionFigures::*which);

}  // namespace reference
