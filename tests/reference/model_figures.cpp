#include "model_figures.hpp"

#include <algorithm>
#include <functional>

namespace reference {
namespace {

using Which = Agreement OcclusionFigures::*;

// Where what was traced hardly varies there is nothing to correlate with but the rays' noise.
constexpr double least_spread = 0.02;

bool correlates(const ModelFigures& model) {
    return model.pooled(&OcclusionFigures::whole).spread() >= least_spread;
}

using Value = std::function<double(const ModelFigures&)>;

// Fills in the worst of all models.
Figure worst(Figure figure, const std::vector<ModelFigures>& models, const Value& value) {
    for (const auto& model : models) {
        const double one = value(model);
        const bool worse = figure.at_least ? one < figure.reached : one > figure.reached;
        if (!figure.where.empty() && !worse) continue;
        figure.reached = one;
        figure.where = model.name();
    }
    return figure;
}

std::vector<ModelFigures> those_that_correlate(const std::vector<ModelFigures>& models) {
    std::vector<ModelFigures> result;
    std::copy_if(models.begin(), models.end(), std::back_inserter(result), correlates);
    return result;
}

std::vector<ModelFigures> parallel_ones(const std::vector<ModelFigures>& models) {
    std::vector<ModelFigures> result;
    std::copy_if(models.begin(), models.end(), std::back_inserter(result),
                 [](const ModelFigures& model) { return !model.perspective; });
    return result;
}

double wrong_parts(const ModelFigures& model) {
    double wrong = 0.0;
    for (const auto& view : model.views) wrong += static_cast<double>(view.parts.wrong);
    return wrong;
}

Value rmse_of(Which which) {
    return [which](const ModelFigures& model) { return model.pooled(which).rmse(); };
}

Value correlation_of(Which which) {
    return [which](const ModelFigures& model) { return model.pooled(which).correlation(); };
}

std::vector<Figure> surface_figures(const std::vector<ModelFigures>& models) {
    const char* const source = "Embree, same mesh and camera";
    return {worst({"depth",
                   "share of pixels away from edges within one code of 65,535 and the raster's "
                   "sampling term",
                   source, 0, 0.999, true, ""},
                  models, [](const ModelFigures& m) { return m.depth_within(); }),
            worst({"silhouette", "relative error of the area", source, 0, 0.001, false, ""}, models,
                  [](const ModelFigures& m) { return m.largest_area_error(); }),
            worst({"parts", "pixels away from edges whose first part is another", source, 0, 0.0,
                   false, ""},
                  models, wrong_parts)};
}

std::vector<Figure> occlusion_figures(const std::vector<ModelFigures>& models) {
    const char* const source = "Embree, rays by the cosine, same reach";
    const auto varied = those_that_correlate(models);
    const Which whole = &OcclusionFigures::whole, hidden = &OcclusionFigures::hidden;
    std::vector<Figure> figures{
        worst({"occlusion", "(a) rmse against the whole mesh", source, 0, 0.04, false, ""}, models,
              rmse_of(whole)),
        worst({"occlusion", "(a) correlation with the whole mesh", source, 0, 0.95, true, ""},
              varied, correlation_of(whole)),
        worst({"occlusion", "(b) rmse against the visible height surface alone", source, 0, 0.02,
               false, ""},
              models, rmse_of(&OcclusionFigures::height)),
        worst({"occlusion", "(b) the same, away from edges", source, 0, std::nullopt, false, ""},
              models, rmse_of(&OcclusionFigures::inner)),
        worst({"occlusion",
               "what no single layer can know: rmse of the traced height surface "
               "against the traced mesh",
               source, 0, std::nullopt, false, ""},
              models, rmse_of(hidden)),
        worst({"occlusion", "the same, correlation", source, 0, std::nullopt, true, ""}, varied,
              correlation_of(hidden)),
        worst({"occlusion", "what two ideal layers could not know, rmse; parallel", source, 0,
               std::nullopt, false, ""},
              parallel_ones(models), rmse_of(&OcclusionFigures::layered))};
    return figures;
}

std::string rounded(double value, const char* format = "%.4f") {
    char text[32];
    std::snprintf(text, sizeof text, format, value);
    return text;
}

Row row_of(const ModelFigures& model) {
    const Agreement whole = model.pooled(&OcclusionFigures::whole);
    const Agreement hidden = model.pooled(&OcclusionFigures::hidden);
    const bool varied = correlates(model);
    double most_codes = 0.0;
    for (const auto& view : model.views) {
        most_codes = std::max(most_codes, view.depth.nearly_all_codes);
    }
    return {model.name(),
            rounded(100.0 * model.depth_within(), "%.3f %%"),
            rounded(most_codes, "%.2f"),
            rounded(100.0 * model.largest_area_error(), "%.4f %%"),
            rounded(model.pooled(&OcclusionFigures::height).rmse()),
            rounded(model.pooled(&OcclusionFigures::inner).rmse()),
            rounded(whole.rmse()),
            varied ? rounded(whole.correlation(), "%.3f") : "",
            rounded(hidden.rmse()),
            varied ? rounded(hidden.correlation(), "%.3f") : "",
            model.perspective ? "" : rounded(model.pooled(&OcclusionFigures::layered).rmse())};
}

}  // namespace

Agreement ModelFigures::pooled(Agreement OcclusionFigures::*which) const {
    Agreement sum;
    for (const auto& view : views) sum.add(view.occlusion.*which);
    return sum;
}

double ModelFigures::depth_within() const {
    double within = 0.0, compared = 0.0;
    for (const auto& view : views) {
        within += view.depth.within * static_cast<double>(view.depth.compared);
        compared += static_cast<double>(view.depth.compared);
    }
    return within / std::max(compared, 1.0);
}

double ModelFigures::largest_area_error() const {
    double error = 0.0;
    for (const auto& view : views) error = std::max(error, view.area.error());
    return error;
}

const View& ModelFigures::worst(Agreement OcclusionFigures::*which) const {
    const auto found =
        std::max_element(views.begin(), views.end(), [&](const auto& a, const auto& b) {
            return (a.occlusion.*which).rmse() < (b.occlusion.*which).rmse();
        });
    return found->view;
}

const View& ModelFigures::worst_depth() const {
    const auto found = std::min_element(
        views.begin(), views.end(),
        [](const auto& a, const auto& b) { return a.depth.within < b.depth.within; });
    return found->view;
}

std::vector<ModelFigures> by_model(const std::vector<ViewFigures>& views) {
    std::vector<ModelFigures> models;
    for (const auto& view : views) {
        const auto found = std::find_if(models.begin(), models.end(), [&](const auto& model) {
            return model.model == view.view.subject.name &&
                   model.perspective == view.view.perspective;
        });
        if (found != models.end()) {
            found->views.push_back(view);
        } else {
            models.push_back({view.view.subject.name, view.view.perspective, {view}});
        }
    }
    return models;
}

std::vector<Figure> model_figures(const std::vector<ModelFigures>& models) {
    std::vector<Figure> figures = surface_figures(models);
    for (auto& figure : occlusion_figures(models)) figures.push_back(figure);
    return figures;
}

Table model_table(const std::vector<ModelFigures>& models) {
    Table table{"Model by model",
                {"model", "depth within", "99.9 % of depths within, codes", "silhouette area",
                 "occlusion (b) rmse", "(b) away from edges", "(a) rmse", "(a) correlation",
                 "hidden: rmse", "hidden: correlation", "two layers: rmse"},
                {}};
    for (const auto& model : models) table.rows.push_back(row_of(model));
    return table;
}

const ModelFigures& worst_model(const std::vector<ModelFigures>& models,
                                Agreement OcclusionFigures::*which) {
    return *std::max_element(models.begin(), models.end(), [&](const auto& a, const auto& b) {
        return a.pooled(which).rmse() < b.pooled(which).rmse();
    });
}

}  // namespace reference
