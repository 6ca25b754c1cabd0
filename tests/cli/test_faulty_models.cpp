// Models with faults of geometry: from the front they look as the sound model does, byte for byte.

#include <algorithm>

#include "pictures.hpp"
#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

// Normals are made, since made ones are what faults of the surface would spoil.
Model ball() {
    Model model = sphere(8.0, 24);
    model.normals.clear();
    return model;
}

void turn(std::array<std::uint32_t, 3>& triangle) {
    std::swap(triangle[1], triangle[2]);
}

// Every triangle with points of its own, as STL has them.
Model in_pieces(const Model& model) {
    Model loose;
    for (const auto& triangle : model.triangles) {
        const auto first = static_cast<std::uint32_t>(loose.points.size());
        for (const auto corner : triangle) loose.points.push_back(model.points[corner]);
        loose.triangles.push_back({first, first + 1, first + 2});
    }
    return loose;
}

// The triangle whose middle is the farthest from the viewer.
std::size_t hindmost(const Model& model) {
    const auto depth = [&](const auto& t) {
        return model.points[t[0]].z + model.points[t[1]].z + model.points[t[2]].z;
    };
    return static_cast<std::size_t>(
        std::min_element(model.triangles.begin(), model.triangles.end(),
                         [&](const auto& a, const auto& b) { return depth(a) < depth(b); }) -
        model.triangles.begin());
}

Snapshot pictures_of(const Model& model) {
    const Place place;
    write_ply(place / "model.ply", model);
    SceneText scene;
    scene.passes =
        "[pass.depth]\n[pass.silhouette]\n[pass.normal]\n[pass.occlusion]\n[pass.curvature]\n"
        "[pass.contour]\n";
    Snapshot files = lasting_files(render(place, scene).folder);
    std::erase_if(files, [](const auto& file) { return !file.first.ends_with(".png"); });
    return files;
}

}  // namespace

TEST_SUITE_BEGIN("cli.faulty models");

TEST_CASE("what is not seen from the front changes no picture") {
    const Model sound = ball();
    const Snapshot expected = pictures_of(sound);
    REQUIRE(expected.size() == 6);
    Model faulty = sound;
    SUBCASE("a doubled shell") {
        faulty = joined(sound, sound);
    }
    SUBCASE("a doubled shell, inside out") {
        Model second = sound;
        for (auto& triangle : second.triangles) turn(triangle);
        faulty = joined(sound, second);
    }
    SUBCASE("every third triangle the wrong way round") {
        for (std::size_t i = 0; i < faulty.triangles.size(); i += 3) turn(faulty.triangles[i]);
    }
    SUBCASE("a shell within") {
        Model inner = sphere(3.0, 8);
        inner.normals.clear();
        faulty = joined(sound, inner);
    }
    SUBCASE("no two triangles joined") {
        faulty = in_pieces(sound);
    }
    SUBCASE("a hole at the back") {
        faulty.triangles.erase(faulty.triangles.begin() +
                               static_cast<std::ptrdiff_t>(hindmost(faulty)));
    }
    CHECK(differences(expected, pictures_of(faulty)).empty());
}

TEST_CASE("a hole in the front is seen") {
    Model pierced = moved(ball(), glm::dmat3(-1, 0, 0, 0, 1, 0, 0, 0, -1));
    pierced.triangles.erase(pierced.triangles.begin() +
                            static_cast<std::ptrdiff_t>(hindmost(pierced)));
    pierced = moved(pierced, glm::dmat3(-1, 0, 0, 0, 1, 0, 0, 0, -1));
    CHECK_FALSE(differences(pictures_of(ball()), pictures_of(pierced)).empty());
}

TEST_CASE("a T-junction on a slanted plate leaves no crack") {
    // One triangle on the left of the seam, two on its right that meet in the seam's middle.
    const glm::dmat3 slant(0.8, 0.1, 0.3, -0.2, 0.9, 0.2, 0.1, 0.3, 0.7);
    const Model plate = moved({{{0, -7, 0}, {0, 7, 0}, {-7, 0, 0}, {0, 0.3, 0}, {7, 0, 0}},
                               {},
                               {{0, 1, 2}, {0, 4, 3}, {3, 4, 1}}},
                              slant);
    const Place place;
    write_ply(place / "model.ply", plate);
    SceneText scene;
    scene.image = "px_per_mm = 40.0\n";
    scene.passes = "[pass.silhouette]\n";
    const Rendered rendered = render(place, scene);
    const Picture picture = read_picture(rendered.folder / "silhouette.png");
    // Along each row the subject is one run: nothing between two covered pixels is not.
    std::size_t rows = 0;
    for (int y = 0; y < picture.height; ++y) {
        int runs = 0;
        for (int x = 1; x < picture.width; ++x) {
            runs += picture.at(x, y) == 65535 && picture.at(x - 1, y) != 65535;
        }
        CHECK(runs <= 1);
        rows += runs == 1;
    }
    CHECK(rows > 300);
}
