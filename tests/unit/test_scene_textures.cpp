// [model]'s keys for detail in pictures.

#include <doctest/doctest.h>

#include "test_scene_support.hpp"

using namespace rakelight;
using namespace rakelight::test;

namespace {

ModelSettings model_of(const std::string& keys) {
    return parse_scene("[blank]\n[model]\nfile = 'a'\n" + keys + "\n", "/a/b.toml").model;
}

std::string refusal(const std::string& keys) {
    try {
        model_of(keys);
    } catch (const std::exception& e) {
        return e.what();
    }
    return "none";
}

}  // namespace

TEST_CASE("detail in pictures is on, and its keys are read") {
    CHECK(model_of("").reading.maps);
    CHECK_FALSE(model_of("").reading.green_down);
    CHECK_FALSE(model_of("").texture.in_depth);
    CHECK_FALSE(model_of("texture_detail = 'none'").reading.maps);
    CHECK(model_of("texture_green = 'down'").reading.green_down);
    CHECK(model_of("texture_strength = 2").texture.strength == 2.0);
    CHECK(model_of("texture_bump_mm = 0.3").texture.bump_mm == 0.3);
    CHECK(model_of("texture_depth = true").texture.in_depth);
}

TEST_CASE("a wrong word or number for detail in pictures is refused") {
    CHECK(contains(refusal("texture_detail = 'nine'"), "none"));
    CHECK(contains(refusal("texture_green = 'dwn'"), "down"));
    CHECK(contains(refusal("texture_strength = -1"), "texture_strength"));
    CHECK(contains(refusal("texture_bump_mm = 0"), "texture_bump_mm"));
    CHECK(contains(refusal("texture_dept = true"), "texture_depth"));
}

TEST_CASE("what makes another mesh is in the cache's key, what does not is not") {
    const std::string usual = reading_text({});
    CHECK(reading_text({.maps = false}) != usual);
    CHECK(reading_text({.green_down = true}) != usual);
}
