#include "cli/gallery_talk.hpp"

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cmath>
#include <cstdio>

#include "error.hpp"

namespace rakelight {
namespace {

std::string figure_names(const char* separator = ", ") {
    std::string names;
    for (const PoseFigure& figure : pose_figures())
        names += (names.empty() ? "" : separator) + std::string(figure.name);
    return names;
}

// As the parser's own sets describe themselves, so that all choices are found alike.
CLI::Validator is_figure() {
    return {[](std::string& text) {
                if (find_pose_figure(text) != nullptr) return std::string();
                return "found \"" + text + "\", which is no figure; expected one of " +
                       figure_names();
            },
            "{" + figure_names(",") + "}"};
}

std::size_t widest_name(const WrittenGallery& gallery) {
    std::size_t widest = 4;
    for (const auto& pose : gallery.joined.poses)
        widest = std::max(widest, pose.record.name.size());
    return widest;
}

int column_width(const PoseFigure& figure) {
    return static_cast<int>(std::max<std::size_t>(figure.name.size(), 8));
}

}  // namespace

void add_choice_options(CLI::App& command, ChoiceOptions& choice) {
    command
        .add_option("--best", choice.best, "Show only so many of the poses, the best by a figure")
        ->type_name("COUNT")
        ->check(CLI::Range(1, 1000000));
    command.add_option("--by", choice.by, "Order the poses by this figure")
        ->type_name("FIGURE")
        ->check(is_figure());
}

GalleryOptions gallery_options(const ChoiceOptions& choice) {
    GalleryOptions options;
    if (!choice.by.empty()) options.by = find_pose_figure(choice.by);
    if (choice.best == 0) return options;
    if (options.by == nullptr)
        throw Error(ExitCode::wrong_use,
                    "found --best without --by; expected the figure by which poses are the best: " +
                        figure_names());
    options.best = choice.best;
    return options;
}

nlohmann::ordered_json figures_json(const PoseFigures& figures) {
    auto json = nlohmann::ordered_json::object();
    for (const PoseFigure& figure : pose_figures()) {
        const double value = figures.*figure.value;
        json[std::string(figure.name)] =
            std::isfinite(value) ? nlohmann::ordered_json(value) : nlohmann::ordered_json(nullptr);
    }
    return json;
}

void print_poses(const WrittenGallery& gallery) {
    const int wide = static_cast<int>(widest_name(gallery));
    std::printf("%-*s", wide, "pose");
    for (const PoseFigure& figure : pose_figures())
        std::printf("  %*s", column_width(figure), std::string(figure.name).c_str());
    std::puts("");
    for (const auto place : gallery.shown) {
        const PoseRecord& record = gallery.joined.poses[place].record;
        std::printf("%-*s", wide, record.name.c_str());
        for (const PoseFigure& figure : pose_figures()) {
            const std::string text = figure_text(figure, record.figures.*figure.value);
            std::printf("  %*s", column_width(figure), text.c_str());
        }
        std::puts("");
    }
    for (const auto& pose : gallery.joined.poses) {
        if (pose.record.usable) continue;
        std::printf("%-*s  %s\n", wide, pose.record.name.c_str(), pose.record.reason.c_str());
    }
}

}  // namespace rakelight
