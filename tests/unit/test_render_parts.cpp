// What is kept of each part: its own height, and which one a pixel shows.

#include <doctest/doctest.h>

#include "render/processor_renderer.hpp"
#include "test_render_meshes.hpp"

using namespace rakelight;
using namespace render_test;

namespace {

// Two groups: a level square at height 1 whose right edge runs through pixels, over a tilted plane
// z = 0.4 x - 3.
Mesh load_two_parts() {
    std::string folder_name = std::filesystem::temp_directory_path() / "rakelight-parts-XXXXXX";
    REQUIRE(mkdtemp(folder_name.data()) != nullptr);
    const std::filesystem::path file = std::filesystem::path(folder_name) / "two.obj";
    {
        std::ofstream out(file);
        out << "v -2 -2 1\nv 0.03 -2 1\nv 0.03 2 1\nv -2 2 1\n"
               "v -9 -9 -6.6\nv 9 -9 0.6\nv 9 9 0.6\nv -9 9 -6.6\n"
               "g over\nf 1 2 3\nf 1 3 4\ng under\nf 5 6 7\nf 5 7 8\n";
    }
    LoadOptions options;
    options.cache.use = false;
    Mesh mesh = load_model(file, options);
    std::filesystem::remove_all(folder_name);
    REQUIRE(mesh.parts().size() == 2);
    REQUIRE(mesh.parts()[0].name == "over");
    return mesh;
}

RenderRequest parts_request() {
    RenderRequest request;
    request.grid = {60, 60, 10.0, -3.0, 3.0};
    request.mask_parts = {0, 1};
    request.mask_heights = true;
    request.part_numbers = true;
    return request;
}

}  // namespace

TEST_CASE("parts: each has the height of its own samples, and nothing bleeds in") {
    const Mesh mesh = load_two_parts();
    ProcessorRenderer renderer;
    renderer.set_mesh(mesh, all_parts(mesh));
    const RenderRequest request = parts_request();
    const auto planes = whole(renderer, request);
    std::size_t shared = 0;
    for (int y = 0; y < 60; ++y) {
        for (int x = 0; x < 60; ++x) {
            const float over = planes.masks[0].at(x, y);
            const float under = planes.masks[1].at(x, y);
            REQUIRE(over + under == 1.0F);
            shared += over > 0.0F && under > 0.0F ? 1 : 0;
            // Lifts of some 8 mm in single precision.
            if (over > 0.0F) CHECK(std::fabs(planes.mask_heights_mm[0].at(x, y) - 1.0) < 1e-5);
            if (over == 0.0F) CHECK(planes.mask_heights_mm[0].at(x, y) == 0.0F);
            if (under == 0.0F) {
                CHECK(planes.mask_heights_mm[1].at(x, y) == 0.0F);
                continue;
            }
            // Its own samples' columns, a fortieth of a mm apart; the square hides those on the
            // left, so that their mean lies to the right of the pixel's by half of what is hidden.
            const double at_x = request.grid.centre_of(x, y).x;
            const bool hidden_on_the_left =
                over > 0.0F && at_x > -1.0 && std::fabs(request.grid.centre_of(x, y).y) < 1.9;
            const double mean_x = hidden_on_the_left ? at_x + 0.5 * over * 0.1 : at_x;
            if (over == 0.0F || hidden_on_the_left) {
                CHECK(std::fabs(planes.mask_heights_mm[1].at(x, y) - (0.4 * mean_x - 3.0)) < 1e-5);
            }
        }
    }
    CHECK(shared >= 38);
}

TEST_CASE("parts: with one sample a pixel shows the part whose mask it fills") {
    const Mesh mesh = load_two_parts();
    ProcessorRenderer renderer;
    renderer.set_mesh(mesh, all_parts(mesh));
    RenderRequest request = parts_request();
    request.samples = 1;
    request.camera.view_from_model = glm::dmat3(0.6, 0, -0.8, 0, 1, 0, 0.8, 0, 0.6);
    const auto planes = whole(renderer, request);
    std::size_t counts[3] = {};
    for (std::size_t i = 0; i < planes.part_numbers.size(); ++i) {
        const std::uint32_t number = planes.part_numbers[i];
        ++counts[number];
        CHECK(planes.masks[0].values[i] == (number == 1 ? 1.0F : 0.0F));
        CHECK(planes.masks[1].values[i] == (number == 2 ? 1.0F : 0.0F));
    }
    CHECK(counts[1] > 100);
    CHECK(counts[2] > 100);
}

TEST_CASE("parts' heights and numbers do not depend on strips") {
    const Mesh mesh = load_two_parts();
    for (const Projection projection : {Projection::parallel, Projection::perspective}) {
        RenderRequest request = parts_request();
        request.grid = {150, 150, 25.0, -3.0, 3.0};
        request.camera.projection = projection;
        request.camera.eye_mm = 30.0;
        ProcessorRenderer at_once(std::int64_t{1} << 30);
        ProcessorRenderer in_strips(1);
        at_once.set_mesh(mesh, all_parts(mesh));
        in_strips.set_mesh(mesh, all_parts(mesh));
        const auto expected = whole(at_once, request);
        const auto planes = whole(in_strips, request);
        for (std::size_t i = 0; i < 2; ++i) {
            CHECK(planes.mask_heights_mm[i].values == expected.mask_heights_mm[i].values);
            CHECK(spread(planes.mask_heights_mm[i]) > 0.5);
        }
        CHECK(planes.part_numbers == expected.part_numbers);
    }
}
