// Depth, normals and areas against closed forms: a tilted plane, a sphere, a cone; the camera taken
// from the manifest's matrices alone, the values from the codes by the formulas of docs/passes.md.

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <functional>
#include <limits>
#include <optional>

#include "pictures.hpp"
#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

constexpr double pi = 3.14159265358979323846;
constexpr int samples = 4;

/// Where a line first meets a surface of the model: view space's z, and the surface's unit normal
/// there in the model's space.
struct Hit {
    double z;
    glm::dvec3 normal;
};
using Surface = std::function<std::optional<Hit>(const Sight&)>;

// The larger root of a z^2 + 2 b z + c = 0 that the test accepts.
std::optional<double> nearest_root(double a, double b, double c,
                                   const std::function<bool(double)>& accepted) {
    const double d = b * b - a * c;
    if (d < 0.0) return std::nullopt;
    const double one = (-b + std::sqrt(d)) / a, other = (-b - std::sqrt(d)) / a;
    for (const double z : {std::max(one, other), std::min(one, other)}) {
        if (accepted(z)) return z;
    }
    return std::nullopt;
}

Surface plane_surface(double slope_x, double slope_y, double half) {
    return [=](const Sight& s) -> std::optional<Hit> {
        const glm::dvec3 n(-slope_x, -slope_y, 1.0);
        const double z = -glm::dot(n, s.at) / glm::dot(n, s.along);
        const glm::dvec3 p = s.at + z * s.along;
        if (std::abs(p.x) > half || std::abs(p.y) > half) return std::nullopt;
        return Hit{z, glm::normalize(n)};
    };
}

Surface sphere_surface(double r) {
    return [=](const Sight& s) -> std::optional<Hit> {
        const auto z = nearest_root(glm::dot(s.along, s.along), glm::dot(s.at, s.along),
                                    glm::dot(s.at, s.at) - r * r, [](double) { return true; });
        if (!z) return std::nullopt;
        return Hit{*z, (s.at + *z * s.along) / r};
    };
}

// x^2 + y^2 = (k (h - z))^2 with k = r / h.
Surface cone_surface(double r, double h) {
    return [=](const Sight& s) -> std::optional<Hit> {
        const double k = r / h, q = h - s.at.z;
        const double a =
            s.along.x * s.along.x + s.along.y * s.along.y - k * k * s.along.z * s.along.z;
        const double b = s.at.x * s.along.x + s.at.y * s.along.y + k * k * q * s.along.z;
        const double c = s.at.x * s.at.x + s.at.y * s.at.y - k * k * q * q;
        const auto z = nearest_root(a, b, c, [&](double root) {
            const double height = s.at.z + root * s.along.z;
            return height >= 0.0 && height <= h;
        });
        if (!z) return std::nullopt;
        const glm::dvec3 p = s.at + *z * s.along;
        return Hit{*z, glm::normalize(glm::dvec3(p.x, p.y, k * k * (h - p.z)))};
    };
}

/// The mean over the pixel's samples, at the centres of a 4 x 4 grid (docs/passes.md), and the
/// smallest cosine between a sample's normal and the direction it is seen from.
struct Expected {
    double z;
    double cosine;
    glm::dvec3 normal;
};

std::optional<Expected> expected_at(const ManifestCamera& camera, const Surface& surface, double x,
                                    double y) {
    Expected mean{0.0, 1.0, glm::dvec3(0.0)};
    for (int j = 0; j < samples; ++j) {
        for (int i = 0; i < samples; ++i) {
            const Sight s = camera.sight(x + (i + 0.5) / samples, y + (j + 0.5) / samples);
            const auto hit = surface(s);
            if (!hit) return std::nullopt;
            mean.z += hit->z / (samples * samples);
            mean.normal += hit->normal;
            mean.cosine =
                std::min(mean.cosine, std::abs(glm::dot(hit->normal, glm::normalize(s.along))));
        }
    }
    mean.normal = glm::normalize(mean.normal);
    return mean;
}

/// What is left over by the largest excess of an error over its tolerance.
struct Comparison {
    std::size_t compared = 0;
    double worst_excess_mm = -std::numeric_limits<double>::max();
    double widest_tolerance_mm = 0.0;
};

struct Case {
    const Rendered* rendered;
    Surface surface;
    double sag_mm;  ///< how far the mesh lies inside of the surface at most
    double px_per_mm;
    double shift_px = 0.0;  ///< to spoil the comparison
};

// Tolerance of one pixel. Half a code; 1e-5 mm for arithmetic in single precision (numbers below
// 32 mm have a spacing of 2e-6, a few operations each); the mesh's sag and the raster's grid, seen
// along the view: OpenGL 4.1 guarantees SUBPIXEL_BITS of 4 (core specification, table of
// implementation dependent values), so that a corner moves by at most 1/32 sample each way.
double tolerance_mm(const Case& one, double mm_per_code, double cosine) {
    const double slope = std::sqrt(1.0 - cosine * cosine) / cosine;
    const double snap = std::sqrt(2.0) / 32.0 / (samples * one.px_per_mm);
    return 0.5 * mm_per_code + 1e-5 + one.sag_mm / cosine + slope * snap;
}

Comparison compare_depth(const Case& one) {
    const Picture depth = read_picture(one.rendered->folder / "depth.png");
    const Picture silhouette = read_picture(one.rendered->folder / "silhouette.png");
    const ManifestCamera camera(one.rendered->manifest);
    const DepthReader reader(one.rendered->numbers("depth"));
    Comparison result;
    for (int y = 0; y < depth.height; ++y) {
        for (int x = 0; x < depth.width; ++x) {
            if (silhouette.at(x, y) != 65535) continue;
            const auto expected = expected_at(camera, one.surface, x + one.shift_px, y);
            if (!expected || expected->cosine < 0.3) continue;
            const double error = std::abs(reader.depth_mm(depth.at(x, y)) + expected->z);
            const double tolerance = tolerance_mm(one, reader.mm_per_code(), expected->cosine);
            ++result.compared;
            result.worst_excess_mm = std::max(result.worst_excess_mm, error - tolerance);
            result.widest_tolerance_mm = std::max(result.widest_tolerance_mm, tolerance);
        }
    }
    return result;
}

// How far each pixel is from the nearest one that is not wholly covered, in steps to one of the
// eight neighbours; `most` where it is farther than that.
std::vector<int> distances_px(const Picture& silhouette, int most) {
    std::vector<int> distances(silhouette.codes.size(), most);
    for (std::size_t i = 0; i < distances.size(); ++i) {
        if (silhouette.codes[i] != 65535) distances[i] = 0;
    }
    for (int step = 1; step < most; ++step) {
        for (int y = 1; y + 1 < silhouette.height; ++y) {
            for (int x = 1; x + 1 < silhouette.width; ++x) {
                const auto at = [&](int dx, int dy) -> int& {
                    return distances[(y + dy) * silhouette.width + x + dx];
                };
                if (at(0, 0) < most) continue;
                for (int k = 0; k < 9; ++k) {
                    if (at(k % 3 - 1, k / 3 - 1) == step - 1) at(0, 0) = step;
                }
            }
        }
    }
    return distances;
}

const std::vector<std::string> cameras{
    "projection = \"parallel\"\n",
    "projection = \"perspective\"\nview_deg = 40\n",
    "projection = \"parallel\"\nyaw_deg = 14\npitch_deg = -9\nroll_deg = 33\n",
    "projection = \"perspective\"\nview_deg = 25\nyaw_deg = -11\npitch_deg = 13\nroll_deg = 70\n",
};

SceneText scene_of(const std::string& camera) {
    SceneText scene;
    scene.pose = camera;
    scene.image = "px_per_mm = 12.0\n";
    return scene;
}

}  // namespace

TEST_SUITE_BEGIN("cli.passes");

TEST_CASE("a tilted plane, a sphere and a cone decode to their depths in millimetres") {
    const Place place;
    const Model ball = sphere(7.0, 96);
    const double ball_sag = sphere_sag(ball, 7.0);
    CHECK(ball_sag < 0.0015);
    write_ply(place / "plane.ply", plate(6, 6, 0.7, -0.4));
    write_ply(place / "sphere.ply", ball);
    constexpr int corners = 720;
    write_ply(place / "cone.ply", cone(7.0, 5.0, corners));
    struct Form {
        const char* file;
        Surface surface;
        double sag_mm;
    };
    // A regular polygon lies inside its circle by r (1 - cos(pi / n)).
    const std::vector<Form> forms{
        {"plane.ply", plane_surface(0.7, -0.4, 6.0), 0.0},
        {"sphere.ply", sphere_surface(7.0), ball_sag},
        {"cone.ply", cone_surface(7.0, 5.0), 7.0 * (1.0 - std::cos(pi / corners))}};
    for (const auto& form : forms) {
        for (const auto& camera : cameras) {
            CAPTURE(std::string(form.file));
            CAPTURE(camera);
            SceneText scene = scene_of(camera);
            scene.model = std::string("file = \"") + form.file + "\"\nup = \"+y\"\n";
            const Rendered rendered = render(place, scene);
            Case one{&rendered, form.surface, form.sag_mm, 12.0};
            const Comparison result = compare_depth(one);
            CHECK(result.compared > 12000);
            CHECK(result.worst_excess_mm <= 0.0);
            CHECK(result.widest_tolerance_mm < 0.01);
            one.shift_px = 0.5 / samples;  // half a sample to the side
            CHECK_MESSAGE(compare_depth(one).worst_excess_mm > 0.0, "the check has no teeth");
        }
    }
}

TEST_CASE("the silhouettes of a disc and of a turned square have their areas") {
    const Place place;
    write_ply(place / "disc.ply", disc(8.0, 720));
    write_ply(place / "square.ply", plate(5.5, 5.5));
    const auto area_mm2 = [&](const std::string& file, const std::string& pose) {
        SceneText scene = scene_of(pose);
        scene.model = "file = \"" + file + "\"\nup = \"+y\"\n";
        const Rendered rendered = render(place, scene);
        const Picture silhouette = read_picture(rendered.folder / "silhouette.png");
        double sum = 0.0;
        for (const auto code : silhouette.codes) sum += code / 65535.0 / (12.0 * 12.0);
        CHECK(rendered.manifest.at("subject").at("area_mm2") == doctest::Approx(sum).epsilon(1e-5));
        return sum;
    };
    // Samples h apart. Each row's count is off by less than one sample from its chord: h^2 for each
    // of size / h rows. The rows' sum of a chord that rises once and falls once is off by at most
    // h times the longest chord. The raster's grid (see above) moves the outline by h / 32.
    const auto bound_mm2 = [](double size, double outline) {
        const double h = 1.0 / (samples * 12.0);
        return 2.0 * size * h + outline * h / 32.0 * std::sqrt(2.0);
    };
    const double polygon = 360.0 * 64.0 * std::sin(2.0 * pi / 720.0);
    CHECK(polygon == doctest::Approx(pi * 64.0).epsilon(2e-5));
    CHECK(std::abs(area_mm2("disc.ply", "") - polygon) < bound_mm2(16.0, 16.0 * pi));
    const double diagonal = 11.0 * std::sqrt(2.0);
    for (const std::string pose : {"roll_deg = 27\n", "roll_deg = 45\n", "roll_deg = -3\n"}) {
        CHECK(std::abs(area_mm2("square.ply", pose) - 121.0) < bound_mm2(diagonal, 44.0));
    }
    // Seen from the side it is narrower by the cosine.
    CHECK(std::abs(area_mm2("square.ply", "yaw_deg = 60\n") - 60.5) < bound_mm2(11.0, 33.0));
    // An outline half a pixel too wide would be noticed.
    CHECK(bound_mm2(16.0, 16.0 * pi) < 0.5 / 12.0 * 16.0 * pi);
}

TEST_CASE("the normals of a sphere point away from its centre") {
    const Place place;
    constexpr double r = 7.0;
    const Model ball = sphere(r, 64);
    const double sag = sphere_sag(ball, r);
    write_ply(place / "model.ply", ball);
    for (const auto& pose : cameras) {
        CAPTURE(pose);
        SceneText scene = scene_of(pose);
        scene.model += "normals = \"file\"\n";
        scene.passes = "[pass.normal]\n[pass.silhouette]\n";
        const Rendered rendered = render(place, scene);
        const Picture normal = read_picture(rendered.folder / "normal.png");
        const Picture silhouette = read_picture(rendered.folder / "silhouette.png");
        const ManifestCamera camera(rendered.manifest);
        glm::dmat3 turn(1.0);
        for (int row = 0; row < 3; ++row) {
            for (int c = 0; c < 3; ++c) {
                turn[c][row] = rendered.manifest.at("camera").at("view_mm_from_model")[row][c];
            }
        }
        // A half code is 1/65535. Two octahedral roundings to 16 bits, in the mesh and in the
        // picture's samples: half a step of 1/32767 in two directions, and the map stretches by at
        // most 3 (Cigolle et al. 2014, JCGT 3(2)): 6.5e-5 each. What a chord hides of the place:
        // sag tan / r; and the raster's grid.
        std::size_t compared = 0;
        double worst = -1.0;
        for (int y = 0; y < normal.height; ++y) {
            for (int x = 0; x < normal.width; ++x) {
                if (silhouette.at(x, y) != 65535) continue;
                const auto expected = expected_at(camera, sphere_surface(r), x, y);
                if (!expected || expected->cosine < 0.3) continue;
                const double slope = 1.0 / expected->cosine;
                const double snap = std::sqrt(2.0) / 32.0 / (samples * 12.0);
                const double tolerance =
                    1.0 / 65535.0 + 2.0 * 6.5e-5 + slope * (sag + snap) / r + 1e-6;
                const glm::dvec3 wanted = turn * expected->normal;
                for (int c = 0; c < 3; ++c) {
                    const double found = 2.0 * normal.at(x, y, c) / 65535.0 - 1.0;
                    worst = std::max(worst, std::abs(found - wanted[c]) - tolerance);
                }
                ++compared;
            }
        }
        CHECK(compared > 15000);
        CHECK(worst <= 0.0);
        // A normal one pixel beside it would be off by 1 / (12 * 7) = 0.012.
        CHECK(1.0 / 65535.0 + 1.3e-4 + (sag + 1e-3) / r / 0.3 < 0.012);
    }
}

TEST_CASE("a plane is open everywhere, whichever way it is tilted") {
    const Place place;
    write_ply(place / "model.ply", plate(7, 7));
    struct Tilt {
        const char* pose;
        double tilt_deg;  // of the plane to the view ray, at most
    };
    // With 30 degrees of view a ray of the picture's corner leans by 21 degrees.
    for (const Tilt& one : {Tilt{"", 0.0}, Tilt{"yaw_deg = 40\n", 40.0},
                            Tilt{"yaw_deg = -25\npitch_deg = 30\n", 38.3},
                            Tilt{"pitch_deg = 35\nprojection = \"perspective\"\n", 56.0}}) {
        CAPTURE(std::string(one.pose));
        SceneText scene = scene_of(one.pose);
        scene.passes = "[pass.occlusion]\nreach_mm = 2.0\n[pass.silhouette]\n";
        const Rendered rendered = render(place, scene);
        const Picture occlusion = read_picture(rendered.folder / "occlusion.png");
        const Picture silhouette = read_picture(rendered.folder / "silhouette.png");
        const auto distances = distances_px(silhouette, 24);
        const double slope = std::tan(one.tilt_deg * pi / 180.0);
        std::size_t inside = 0;
        double worst = -1.0;
        for (std::size_t i = 0; i < distances.size(); ++i) {
            // A pixel on the outline holds the depth of its covered samples, whose middle lies up
            // to 3/8 pixel from its own each way (docs/passes.md). Seen from d pixels away it
            // stands over the plane by that much of the slope, and a horizon raised by an angle b
            // all around closes sin^2 b of the cosine-weighted hemisphere.
            const double d = std::max(0.5, static_cast<double>(distances[i]));
            const double b = std::atan(0.375 * std::sqrt(2.0) * slope / d);
            const double closed = 1.0 - occlusion.codes[i] / 65535.0;
            worst = std::max(worst, closed - std::pow(std::sin(b), 2) - 1.0 / 65535.0);
            if (distances[i] < 24) continue;  // nothing but the plane within the reach of 24 pixels
            ++inside;
            worst = std::max(worst, closed - 1.0 / 65535.0);
        }
        CHECK(worst <= 0.0);
        CHECK(inside > 4000);
    }
}

TEST_CASE("a flat plate has no curvature, and the noise of arithmetic does not fill the codes") {
    const Place place;
    write_ply(place / "model.ply", plate(7, 7));
    for (const std::string pose : {"", "yaw_deg = 40\n", "yaw_deg = -25\npitch_deg = 30\n"}) {
        CAPTURE(pose);
        SceneText scene = scene_of(pose);
        scene.passes = "[pass.curvature]\n";
        const Rendered rendered = render(place, scene);
        const Picture curvature = read_picture(rendered.folder / "curvature.png");
        int worst = 0;
        for (const int code : curvature.codes) worst = std::max(worst, std::abs(code - 32768));
        // Normals in single precision: 1e-7 over a scale of 0.15 mm is below 1e-6 per mm, a
        // hundredth of the least range of 1e-4.
        CHECK(worst <= 328);
        CHECK(rendered.numbers("curvature").at("h_max_per_mm").get<double>() >= 1e-4);
    }
}

TEST_CASE("a part's own depth has all codes for the part alone") {
    const Place place;
    // A plate z = 0.2 x + 2 of half side 3 over a level one far below.
    write_obj(place / "model.obj", moved(plate(3, 3, 0.2, 0.0), glm::dmat3(1), {0, 0, 2}),
              moved(plate(6, 6), glm::dmat3(1), {0, 0, -9}));
    SceneText scene;
    scene.model = "file = \"model.obj\"\nup = \"+y\"\n";
    scene.passes = "[pass.depth]\n[pass.parts]\nnames = [\"*\"]\ndepth = true\n";
    const Rendered rendered = render(place, scene);
    const Picture shell = read_picture(rendered.folder / "part-shell-depth.png");
    const DepthReader own(rendered.numbers("part-shell-depth"));
    const DepthReader all(rendered.numbers("depth"));
    const Picture depth = read_picture(rendered.folder / "depth.png");
    // Pixels of 0.1 mm: their centres lie up to 2.95 from the middle, the plate's depth there is
    // 0.59 from its middle's. The margins are a hundredth of the codes.
    CHECK(*std::max_element(shell.codes.begin(), shell.codes.end()) == std::lround(65535 * 0.99));
    CHECK(own.mm_per_code() == doctest::Approx(1.18 / (65535 * 0.98)).epsilon(1e-5));
    std::size_t seen = 0;
    for (std::size_t i = 0; i < shell.codes.size(); ++i) {
        if (shell.codes[i] == 0) continue;
        ++seen;
        REQUIRE(shell.codes[i] >= std::lround(65535 * 0.01));
        // Half a code of each.
        REQUIRE(std::abs(own.depth_mm(shell.codes[i]) - all.depth_mm(depth.codes[i])) <
                0.5 * (own.mm_per_code() + all.mm_per_code()) + 1e-5);
    }
    CHECK(seen == 60 * 60);
    // A level part is flat: all of it gets the near end.
    CHECK(rendered.numbers("part-stand-depth").at("mm_per_code") == 0.0);
    CHECK(rendered.manifest.at("graphics").at("context") == "processor");
}

TEST_SUITE_END();
