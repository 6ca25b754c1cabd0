// Laws that tell a wrong picture without knowing the right one: masks add up, mirrors mirror, finer
// pixels average back, and turning the model against the camera changes nothing.

#include <cmath>
#include <cstdlib>
#include <limits>

#include "pictures.hpp"
#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

const char* const four_passes =
    "[pass.depth]\n[pass.silhouette]\n[pass.normal]\n[pass.occlusion]\nreach_mm = 2.0\n";

// What another direction of the axes may change in a code. Normals are kept in 16 bits by the
// octahedral map, which rounds anew: by 6.5e-5 in the mesh and again in the picture's samples (see
// test_passes_depth.cpp), on either side; the open share of a slice changes by no more than the
// angle.
int allowed(const std::string& pass) {
    return pass == "occlusion" ? static_cast<int>(65535 * 4 * 6.5e-5) + 1 : 1;
}

struct Difference {
    int worst = 0;
    std::size_t many = 0;  ///< pixels that differ by more than a code
};

Difference difference(const Picture& a, const Picture& b, bool mirrored = false) {
    REQUIRE(a.width == b.width);
    REQUIRE(a.height == b.height);
    Difference result;
    for (int y = 0; y < a.height; ++y) {
        for (int x = 0; x < a.width; ++x) {
            const int other = mirrored ? a.width - 1 - x : x;
            const int by = std::abs(a.at(x, y) - b.at(other, y));
            result.worst = std::max(result.worst, by);
            result.many += by > 1;
        }
    }
    return result;
}

Picture read(const Rendered& rendered, const std::string& name) {
    return read_picture(rendered.folder / (name + ".png"));
}

}  // namespace

TEST_SUITE_BEGIN("cli.laws");

TEST_CASE("the masks of all parts add up to the silhouette") {
    const Place place;
    write_obj(place / "model.obj", sphere(4.7, 16),
              moved(box({-1.3, -1.1, -5.3}, {1.9, 1.7, 5.9}), glm::dmat3(1.0), {2.3, 1.1, 0.4}));
    SceneText scene;
    scene.model = "file = \"model.obj\"\nup = \"+y\"\n";
    scene.pose = "yaw_deg = 25\npitch_deg = 10\n";
    scene.passes = "[pass.silhouette]\n[pass.parts]\nnames = [\"shell\", \"st?nd\"]\n";
    const Rendered rendered = render(place, scene);
    const Picture shell = read(rendered, "part-shell");
    const Picture stand = read(rendered, "part-stand");
    const Picture silhouette = read(rendered, "silhouette");
    int worst = 0;
    std::size_t of_shell = 0, of_stand = 0, shared = 0;
    for (std::size_t i = 0; i < silhouette.codes.size(); ++i) {
        worst = std::max(worst, std::abs(shell.codes[i] + stand.codes[i] - silhouette.codes[i]));
        of_shell += shell.codes[i] == 65535;
        of_stand += stand.codes[i] == 65535;
        shared += shell.codes[i] > 0 && stand.codes[i] > 0;
    }
    CHECK(worst <= 1);  // three roundings of half a code
    CHECK(of_shell > 1000);
    CHECK(of_stand > 500);
    CHECK(shared > 20);
    scene.model += "skip = [\"stand\"]\n";
    scene.passes = "[pass.silhouette]\n";
    const Picture without = read(render(place, scene, "without"), "silhouette");
    CHECK(difference(without, silhouette).many > 100);
}

TEST_CASE("a mirrored model gives the mirrored picture") {
    const Place place;
    const glm::dmat3 mirror(-1, 0, 0, 0, 1, 0, 0, 0, 1);
    write_ply(place / "model.ply", crooked());
    write_ply(place / "mirrored.ply", moved(crooked(), mirror));
    SceneText scene;
    scene.passes = four_passes;
    scene.pose = "yaw_deg = 20\n";
    const Rendered plain = render(place, scene, "plain");
    scene.model = "file = \"mirrored.ply\"\nup = \"+y\"\n";
    scene.pose = "yaw_deg = -20\n";
    const Rendered mirrored = render(place, scene, "mirrored");
    for (const std::string name : {"depth", "silhouette", "occlusion"}) {
        CAPTURE(name);
        const Difference by = difference(read(plain, name), read(mirrored, name), true);
        CHECK(by.worst <= allowed(name));
        CHECK(difference(read(plain, name), read(mirrored, name)).many > 1000);
    }
}

TEST_CASE("twice the pixels with half the samples each average back") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    for (const std::string projection : {"parallel", "perspective"}) {
        CAPTURE(projection);
        SceneText scene;
        scene.pose =
            std::string("yaw_deg = 20\npitch_deg = 15\nprojection = \"") + projection + "\"\n";
        scene.image = "px_per_mm = 10.0\nsamples = 4\n";
        const Rendered once = render(place, scene, "once");
        scene.image = "px_per_mm = 20.0\nsamples = 2\n";  // the same sample positions
        const Rendered twice = render(place, scene, "twice");
        const Picture coarse = read(once, "silhouette"), fine = read(twice, "silhouette");
        const Picture coarse_depth = read(once, "depth"), fine_depth = read(twice, "depth");
        const DepthReader coarse_mm(once.numbers("depth")), fine_mm(twice.numbers("depth"));
        double worst_share = 0.0, worst_mm = 0.0;
        std::size_t edges = 0, inside = 0;
        for (int y = 0; y < coarse.height; ++y) {
            for (int x = 0; x < coarse.width; ++x) {
                double share = 0.0, depth = 0.0;
                for (int k = 0; k < 4; ++k) {
                    share += 0.25 * fine.at(2 * x + k % 2, 2 * y + k / 2);
                    depth += 0.25 * fine_mm.depth_mm(fine_depth.at(2 * x + k % 2, 2 * y + k / 2));
                }
                worst_share = std::max(worst_share, std::abs(share - coarse.at(x, y)));
                edges += coarse.at(x, y) > 0 && coarse.at(x, y) < 65535;
                if (coarse.at(x, y) != 65535) continue;
                ++inside;
                worst_mm =
                    std::max(worst_mm, std::abs(depth - coarse_mm.depth_mm(coarse_depth.at(x, y))));
            }
        }
        CHECK(worst_share <= 1.0);  // half a code on either side
        // Half a code on either side; single precision below 32 mm has a spacing of 2e-6 mm.
        CHECK(worst_mm <= 0.5 * (coarse_mm.mm_per_code() + fine_mm.mm_per_code()) + 1e-5);
        CHECK(edges > 200);
        CHECK(inside > 5000);
    }
}

TEST_CASE("turning the model against the yaw changes nothing") {
    const Place place;
    // Positive yaw turns the front to the viewer's right: about +y, z goes to x, x to -z.
    const glm::dmat3 back(0, 0, 1, 0, 1, 0, -1, 0, 0);  // columns: x to z, z to -x
    write_ply(place / "model.ply", crooked());
    write_ply(place / "turned.ply", moved(crooked(), back));
    SceneText scene;
    scene.passes = four_passes;
    scene.pose = "pitch_deg = 12\n";
    const Rendered plain = render(place, scene, "plain");
    scene.model = "file = \"turned.ply\"\nup = \"+y\"\n";
    scene.pose = "yaw_deg = 90\npitch_deg = 12\n";
    const Rendered turned = render(place, scene, "turned");
    scene.pose = "yaw_deg = -90\npitch_deg = 12\n";
    const Rendered wrong = render(place, scene, "wrong");
    for (const std::string name : {"depth", "silhouette", "occlusion"}) {
        CAPTURE(name);
        CHECK(difference(read(plain, name), read(turned, name)).worst <= allowed(name));
        CHECK(difference(read(plain, name), read(wrong, name)).many > 1000);
    }
}

TEST_CASE("other axes for up and front are the same as a turned model") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    const glm::dmat3 stood(1, 0, 0, 0, 0, 1, 0, -1, 0);  // y to z, z to -y: z is up, the front -y
    write_ply(place / "stood.ply", moved(crooked(), stood));
    SceneText scene;
    scene.passes = four_passes;
    const Rendered plain = render(place, scene, "plain");
    scene.model = "file = \"stood.ply\"\nup = \"+z\"\n";
    const Rendered turned = render(place, scene, "turned");
    scene.model = "file = \"stood.ply\"\nup = \"+z\"\nfront = \"-y\"\n";
    const Rendered said = render(place, scene, "said");
    for (const std::string name : {"depth", "silhouette", "occlusion"}) {
        CHECK(difference(read(plain, name), read(turned, name)).worst <= allowed(name));
        CHECK(difference(read(turned, name), read(said, name)).worst == 0);
    }
}

TEST_CASE("a shift by whole pixels moves the picture by them") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    SceneText scene;
    const Picture still = read(render(place, scene, "still"), "depth");
    scene.framing += "shift_mm = [2.0, -1.0]\n";
    const Picture moved_picture = read(render(place, scene, "moved"), "depth");
    int worst = 0;
    for (int y = 0; y + 10 < still.height; ++y) {
        for (int x = 0; x + 20 < still.width; ++x) {
            worst = std::max(worst, std::abs(still.at(x, y) - moved_picture.at(x + 20, y + 10)));
        }
    }
    CHECK(worst <= 1);
}

TEST_SUITE_END();
