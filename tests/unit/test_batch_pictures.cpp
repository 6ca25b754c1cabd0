// From planes to pictures: what is measured on them, and what is made of rounding.

#include <doctest/doctest.h>

#include <atomic>
#include <chrono>
#include <cmath>
#include <string>
#include <thread>

#include "batch/tasks.hpp"
#include "batch/visible.hpp"
#include "error.hpp"

using namespace rakelight;

namespace {

// A square of full coverage in the middle of a 20 x 20 picture, 10 px/mm.
RenderedPlanes square_planes(int low, int high, float height_mm) {
    RenderedPlanes planes;
    planes.coverage = Plane(20, 20);
    planes.height_mm = Plane(20, 20);
    for (int y = low; y < high; ++y) {
        for (int x = low; x < high; ++x) {
            planes.coverage.at(x, y) = 1.0F;
            planes.height_mm.at(x, y) = height_mm;
        }
    }
    return planes;
}

std::vector<BlankMask> half_field() {
    Plane field(20, 20);
    for (int y = 0; y < 20; ++y) {
        for (int x = 0; x < 10; ++x) field.at(x, y) = 1.0F;
    }
    return {{"blank", Plane(20, 20, 1.0F)}, {"field", field}};
}

VisibleSubject measured(const RenderedPlanes& planes) {
    VisibleMeter meter(10.0);
    meter.add(planes, half_field(), 0);
    return meter.subject();
}

}  // namespace

TEST_CASE("the visible subject: area, share of the field, box, extremes") {
    RenderedPlanes planes = square_planes(5, 15, 2.0F);
    planes.height_mm.at(7, 9) = 3.0F;
    planes.height_mm.at(12, 6) = -1.0F;
    const VisibleSubject visible = measured(planes);
    CHECK(visible.pixels == 100);
    CHECK(visible.area_mm2 == doctest::Approx(1.0));      // 100 pixels of 0.01 mm2
    CHECK(visible.field_share == doctest::Approx(0.25));  // 50 of the field's 200 pixels
    CHECK(visible.box.x == 5);
    CHECK(visible.box.width == 10);
    CHECK(visible.near_mm == doctest::Approx(-3.0));  // z is the height's negative
    CHECK(visible.far_mm == doctest::Approx(1.0));
}

TEST_CASE("a subject outside the field, or nowhere, is no picture") {
    RenderedPlanes planes = square_planes(12, 15, 0.0F);
    CHECK_THROWS_AS(measured(planes), Error);
    planes = square_planes(0, 0, 0.0F);
    CHECK_THROWS_AS(measured(planes), Error);
}

TEST_CASE("rounding of single precision becomes flat; a real slope of a micrometre does not") {
    const auto spread = [](float difference_mm) {
        RenderedPlanes planes = square_planes(5, 15, 10.0F);
        planes.height_mm.at(7, 9) = 10.0F + difference_mm;
        VisibleSubject visible = measured(planes);
        flatten_rounding(visible, 20.0);
        return visible.far_mm - visible.near_mm;
    };
    const float ulp = 9.5367431640625e-7F;  // of numbers from 8 to 16 (IEEE 754 binary32)
    CHECK(spread(4 * ulp) == 0.0);
    CHECK(spread(0.001F) == doctest::Approx(0.001).epsilon(0.001));
}

TEST_CASE("tasks: all run, and the first failure in their order is the one thrown") {
    std::vector<int> done(50, 0);
    std::vector<std::function<void()>> tasks;
    for (std::size_t i = 0; i < done.size(); ++i) tasks.emplace_back([&done, i] { done[i] = 1; });
    run_tasks(tasks);
    for (const int one : done) CHECK(one == 1);
    run_tasks({});
    CHECK_THROWS_AS(run_tasks({[] {}, [] { throw Error(ExitCode::not_written, "disk"); }}), Error);
}

TEST_CASE("tasks: a later failure of an earlier task is the one thrown, and the other way round") {
    // The second task fails while the first is under way, or the first while the second is; where
    // there is one thread alone, the first fails and the second never begins.
    using namespace std::chrono_literals;
    for (const bool first_is_quick : {true, false}) {
        CAPTURE(first_is_quick);
        std::atomic<int> begun{0};
        const auto failing = [&](bool quick, const char* name) {
            ++begun;
            for (int i = 0; i < 100 && begun < 2; ++i) std::this_thread::sleep_for(1ms);
            std::this_thread::sleep_for(quick ? 0ms : 30ms);
            throw Error(ExitCode::not_written, name);
        };
        try {
            run_tasks({[&] { failing(first_is_quick, "first"); },
                       [&] { failing(!first_is_quick, "second"); }});
            FAIL("nothing was thrown");
        } catch (const Error& error) {
            CHECK(std::string(error.what()) == "first");
        }
    }
}
