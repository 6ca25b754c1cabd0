// COLLADA where the importer is helped: <skew>, <ph>, what of a picture cuts.

#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "test_model_support.hpp"
#include "test_texture_support.hpp"

using namespace rakelight;
using namespace model_test;

namespace {

Collada skewed(const std::string& skew) {
    return {.asset = "",
            .points = "0 0 0 1 1 0 0 0 1 1 0 0",
            .corners = "0 1 2 0 2 3 0 3 1 1 3 2",
            .nodes = R"(<node id="n" name="piece"><skew sid="s">)" + skew +
                     R"(</skew><instance_geometry url="#g"/></node>)"};
}

std::string refusal_of(const std::string& document) {
    const TemporaryFolder folder;
    write(folder / "a.dae", document);
    return bad_model_message(folder / "a.dae");
}

/// A triangle with a picture in its <transparent>.
std::string see_through(const std::string& attribute, const std::string& transparency = {}) {
    return R"(<?xml version="1.0"?>
<COLLADA xmlns="http://www.collada.org/2005/11/COLLADASchema" version="1.4.1"><asset/>
<library_images><image id="i"><init_from>m.png</init_from></image></library_images>
<library_effects><effect id="e"><profile_COMMON>
<newparam sid="s"><surface type="2D"><init_from>i</init_from></surface></newparam>
<newparam sid="p"><sampler2D><source>s</source></sampler2D></newparam>
<technique sid="c"><phong><transparent)" +
           attribute + R"(><texture texture="p" texcoord="UV"/></transparent>)" + transparency +
           R"(</phong></technique></profile_COMMON></effect></library_effects>
<library_materials><material id="m" name="leaf"><instance_effect url="#e"/></material>
</library_materials><library_geometries><geometry id="g"><mesh>
<source id="p"><float_array id="pa" count="9">0 0 0 1 0 0 1 1 0</float_array><technique_common>
<accessor source="#pa" count="3" stride="3"><param name="X" type="float"/>
<param name="Y" type="float"/><param name="Z" type="float"/></accessor></technique_common></source>
<source id="t"><float_array id="ta" count="6">0 0 1 0 1 1</float_array><technique_common>
<accessor source="#ta" count="3" stride="2"><param name="S" type="float"/>
<param name="T" type="float"/></accessor></technique_common></source>
<vertices id="v"><input semantic="POSITION" source="#p"/></vertices>
<triangles count="1" material="M"><input semantic="VERTEX" source="#v" offset="0"/>
<input semantic="TEXCOORD" source="#t" offset="1" set="0"/><p>0 0 1 1 2 2</p></triangles>
</mesh></geometry></library_geometries><library_visual_scenes><visual_scene id="S">
<node id="n" name="leaf"><instance_geometry url="#g"><bind_material><technique_common>
<instance_material symbol="M" target="#m">
<bind_vertex_input semantic="UV" input_semantic="TEXCOORD" input_set="0"/></instance_material>
</technique_common></bind_material></instance_geometry></node></visual_scene>
</library_visual_scenes><scene><instance_visual_scene url="#S"/></scene></COLLADA>)";
}

/// What the picture leaves of the surface at its right border, 0 to 1. A picture that cuts nothing
/// leaves no mask.
double left_at_right(const std::string& document, const std::string& picture) {
    const TemporaryFolder folder;
    write(folder / "a.dae", document);
    write(folder / "m.png", picture);
    const Mesh mesh = load_model(folder / "a.dae", no_cache());
    if (mesh.details().empty() || !mesh.details()[0].mask) return -1.0;
    const TexturePlane& plane = mesh.planes()[mesh.details()[0].mask->plane];
    return mesh.texels()[plane.first + plane.width - 1] * double{plane.scale};
}

const std::string rgb_zero = R"( opaque="RGB_ZERO")";

}  // namespace

// COLLADA 1.4.1 specification, <skew>, from memory. The
// specification's example, 45 degrees from y to x, adds y to x. In the second one the first axis
// stands at 45 degrees to the second, and is to stand at 30: (1, 1, 0) comes to x = cot(30).
TEST_CASE("COLLADA: skewed nodes lie as their axes say") {
    const TemporaryFolder folder;
    write(folder / "a.dae", as_collada(skewed("45. 0. 1. 0. 1. 0. 0.")));
    CHECK(load_model(folder / "a.dae", no_cache()).bounds().size().x == doctest::Approx(2.0));
    write(folder / "b.dae", as_collada(skewed(" 15 3 3 0\n2 0 0 ")));
    const Mesh mesh = load_model(folder / "b.dae", no_cache());
    CHECK(mesh.bounds().size().x == doctest::Approx(std::sqrt(3.0)));
    CHECK(mesh.bounds().size().y == doctest::Approx(1.0));
    // XML 1.0, sections 2.5 and 2.7: there are no elements in comments and character data.
    Collada commented = skewed("45. 0. 1. <!-- <skew> --> 0. 1. 0. 0.");
    commented.asset = "<!-- <skew>1 2 3 --><title><![CDATA[<skew>4</skew>]]></title>";
    write(folder / "c.dae", as_collada(commented));
    CHECK(load_model(folder / "c.dae", no_cache()).bounds().size().x == doctest::Approx(2.0));
}

TEST_CASE("COLLADA: a skew that is none is refused") {
    for (const char* skew : {"90 0 1 0 1 0 0", "45 1 1 0 1 0 0", "10 1 0 0 2 0 0", "10 0 0 0 1 0 0",
                             "10 0 1 0 0 0 0", "1e400 0 1 0 1 0 0", "10 nan 1 0 1 0 0"}) {
        CAPTURE(std::string(skew));
        CHECK(refusal_of(as_collada(skewed(skew))).find("a <skew> turns its first axis") !=
              std::string::npos);
    }
    CHECK(refusal_of(as_collada(skewed("45 0 1 0 1 0"))).find("has less than 7 numbers") !=
          std::string::npos);
    CHECK(refusal_of(as_collada(skewed("45 0 1 0 1 0 x"))).find("expected a number") !=
          std::string::npos);
}

// COLLADA 1.4.1 specification, <polygons>: <ph> is a polygon (<p>) with holes (<h>). From memory.
TEST_CASE("COLLADA: polygons with holes are refused for what they are") {
    std::string document = as_collada({});
    const std::size_t from = document.find("<triangles"), to = document.find("</mesh>");
    REQUIRE(from < to);
    document.replace(from, to - from,
                     R"(<polygons count="1"><input semantic="VERTEX" source="#v" offset="0"/>
<ph><p>0 1 2 3</p><h>0 1 2</h></ph></polygons>)");
    CHECK(refusal_of(document).find("it has polygons with holes in them (<ph>)") !=
          std::string::npos);
}

// COLLADA 1.4.1 specification, <transparent>, attribute opaque, from memory: A_ONE, the default, by
// alpha; RGB_ZERO the other way round and by how light the colour is.
TEST_CASE("COLLADA: a picture cuts where its <transparent> says") {
    const auto grey = texture_test::png(8, 1, 1, [](double u, double, int) { return u; });
    const auto grey_in_alpha =
        texture_test::png(8, 1, 2, [](double u, double, int c) { return c == 0 ? 1.0 - u : u; });
    const auto colours_in_alpha = texture_test::png(8, 1, 4, [](double u, double, int c) {
        return c == 3 ? u : c == 0 ? 1.0 : 0.0;
    });
    constexpr double light = 7.5 / 8.0;
    constexpr double code = 1e-3;
    CHECK(left_at_right(see_through(""), grey) == doctest::Approx(light).epsilon(code));
    CHECK(left_at_right(see_through(R"( opaque="A_ONE")"), grey_in_alpha) ==
          doctest::Approx(light).epsilon(code));
    CHECK(left_at_right(see_through(rgb_zero), grey) == doctest::Approx(1.0 - light).epsilon(code));
    CHECK(left_at_right(see_through(rgb_zero), grey_in_alpha) ==
          doctest::Approx(light).epsilon(code));
    CHECK(left_at_right(see_through(R"( opaque="A_ZERO")"), grey_in_alpha) ==
          doctest::Approx(1.0 - light).epsilon(code));
    CHECK(left_at_right(see_through(R"( opaque="RGB_ONE")"), grey_in_alpha) ==
          doctest::Approx(1.0 - light).epsilon(code));
    // What a picture's own colours are for is not how transparent it is.
    CHECK(left_at_right(see_through(rgb_zero), colours_in_alpha) ==
          doctest::Approx(light).epsilon(code));
    // How thin all of it is makes no hole, and turns nothing round.
    for (const char* factor : {"0", "0.3", "1"}) {
        const std::string all =
            "<transparency><float>" + std::string(factor) + "</float></transparency>";
        CHECK(left_at_right(see_through(rgb_zero, all), grey) ==
              doctest::Approx(1.0 - light).epsilon(code));
        CHECK(left_at_right(see_through("", all), grey) == doctest::Approx(light).epsilon(code));
    }
}
