// The full accuracy run: cmake --workflow --preset accuracy. It says what was reached and never
// fails because a target was missed; the test `reference` does.

#define DOCTEST_CONFIG_IMPLEMENT
#include <doctest/doctest.h>

#include <cstdio>
#include <sstream>
#include <stdexcept>

#include "form_figures.hpp"
#include "model_figures.hpp"
#include "relief_figures.hpp"
#include "worst_pictures.hpp"

using namespace reference;

namespace {

// Closed forms are smooth, and fill the picture: fewer pixels tell as much.
constexpr double px_per_mm = 20.0, closed_form_px_per_mm = 12.0;
constexpr double recipe_px_per_mm = 16.0;
constexpr int poses = 5;
constexpr Effort effort{.occlusion_grid_px = 7, .layers = 2};

// What the tests' helpers require is not there: outside of a test that ends the run.
void throw_failure(const doctest::AssertData& data) {
    if (!data.m_failed) return;
    std::ostringstream text;
    text << data.m_expr << " does not hold";
    for (int i = 0; i < doctest::IReporter::get_num_active_contexts(); ++i) {
        text << "; ";
        doctest::IReporter::get_active_contexts()[i]->stringify(&text);
    }
    throw std::runtime_error(text.str());
}

void say(const std::string& text) {
    std::fprintf(stderr, "%s\n", text.c_str());
}

void measure_views(const std::vector<Subject>& subjects, double density, const fs::path& out,
                   std::vector<ViewFigures>& all) {
    for (const auto& subject : subjects) {
        say("tracing " + subject.name);
        for (const auto& view : views_of(subject, poses, density)) {
            all.push_back(compare(view, out / "views", effort));
        }
    }
}

void add(Report& report, std::vector<Figure> figures) {
    for (auto& figure : figures) report.figures.push_back(std::move(figure));
}

void measure_recipes(const std::vector<Subject>& subjects, const fs::path& out, Report& report) {
    say("comparing recipes");
    std::vector<RecipesCompared> compared;
    for (const auto& subject : subjects)
        compared.push_back(compare_recipes(relief_view(subject, recipe_px_per_mm), out / "relief"));
    add(report, relief_figures(compared));
    report.tables.push_back(relief_table(compared));
}

const View& worst_depth(const std::vector<ModelFigures>& models) {
    const ModelFigures* found = &models.front();
    for (const auto& model : models) {
        if (model.depth_within() < found->depth_within()) found = &model;
    }
    return found->worst_depth();
}

void draw_worst(const std::vector<ModelFigures>& models, const fs::path& out, Report& report) {
    say("drawing the worst differences");
    const auto whole = &OcclusionFigures::whole;
    const auto height = &OcclusionFigures::height;
    report.pictures = {write_worst(worst_depth(models), "depth", out),
                       write_worst(worst_model(models, whole).worst(whole), "whole", out),
                       write_worst(worst_model(models, height).worst(height), "height", out)};
}

void measure(const fs::path& out, const Sources& sources) {
    fs::create_directories(out);
    Report report;
    std::vector<ViewFigures> views;
    measure_views(closed_forms(out / "models"), closed_form_px_per_mm, out, views);
    measure_views(found_models(sources, out / "models"), px_per_mm, out, views);
    for (const auto& view : views) report.views.push_back(to_json(view));
    const auto models = by_model(views);
    add(report, model_figures(models));
    report.tables.push_back(model_table(models));
    measure_recipes(found_models(sources, out / "models"), out, report);
    say("closed forms, laws, files");
    add(report, smoothness_figures(out / "forms", {px_per_mm}));
    add(report, curvature_figures(out / "forms", {px_per_mm}));
    add(report, law_figures(out / "forms", px_per_mm));
    add(report, file_figures(out / "forms"));
    draw_worst(models, out, report);
    report.notes.push_back(
        std::to_string(models.size() / 2) + " models, " + std::to_string(poses) +
        " poses each in both projections, on a round blank of 38 mm: " + number_text(px_per_mm) +
        " px/mm, closed forms " + number_text(closed_form_px_per_mm) + " px/mm.");
    write_report(report, out);
    say("written: " + (out / "accuracy.md").string() + " and accuracy.json beside it");
}

}  // namespace

int main(int count, char** arguments) {
    doctest::Context context;
    context.setAsDefaultForAssertsOutOfTestCases();
    context.setAssertHandler(throw_failure);
    if (count != 5) {
        std::fprintf(stderr, "use: rakelight_accuracy OUT DEMO_MODEL ASSIMP_MODELS NPM_PACKAGES\n");
        return 2;
    }
    try {
        const auto path = [&](int i) { return fs::absolute(arguments[i]); };
        measure(path(1), {path(2), path(3), path(4)});
    } catch (const std::exception& error) {
        std::fprintf(stderr, "rakelight_accuracy: %s\n", error.what());
        return 1;
    }
    return 0;
}
