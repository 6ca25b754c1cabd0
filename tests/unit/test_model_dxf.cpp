// DXF reference, from memory: polyface meshes (VERTEX, group codes 71 to 74), blocks and where they
// are inserted (INSERT, BLOCK).

#include <doctest/doctest.h>

#include <string>
#include <vector>

#include "model/readers/dxf_text.hpp"
#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;

namespace {

/// Of words each is a line: a code, a value, a code, a value.
std::string lines(const std::string& words) {
    std::string text = words;
    for (char& c : text)
        if (c == ' ') c = '\n';
    return text + "\n";
}

/// A triangle with corners at 0 0 0, 2 0 0 and 0 1 3.
const std::string face =
    "0 3DFACE 8 L 10 0 20 0 30 0 11 2 21 0 31 0 12 0 22 1 32 3 13 0 23 1 33 3 ";

std::string block(const std::string& name, const std::string& base, const std::string& body) {
    return "0 BLOCK 8 0 2 " + name + " 70 0 " + base + "3 " + name + " 1 x " + body + "0 ENDBLK ";
}

std::string dxf(const std::string& blocks, const std::string& entities) {
    return lines("0 SECTION 2 HEADER 9 $INSUNITS 70 4 0 ENDSEC 0 SECTION 2 BLOCKS " + blocks +
                 "0 ENDSEC 0 SECTION 2 ENTITIES " + entities + "0 ENDSEC 0 EOF");
}

/// The box around it, in the file's axes: the importer turns z up to y up.
Bounds box_of(const std::string& text) {
    const TemporaryFolder folder;
    write(folder / "a.dxf", text);
    const Bounds box = load_model(folder / "a.dxf", no_cache()).bounds();
    return {{box.low.x, -box.high.z, box.low.y}, {box.high.x, -box.low.z, box.high.y}};
}

std::string refusal_of(const std::string& text) {
    const TemporaryFolder folder;
    write(folder / "a.dxf", text);
    return bad_model_message(folder / "a.dxf");
}

// Single precision, of numbers up to 64.
constexpr double rounding = 64.0 / 16777216.0;

void check_box(const Bounds& box, glm::dvec3 low, glm::dvec3 high) {
    CHECK(glm::distance(box.low, low) < rounding);
    CHECK(glm::distance(box.high, high) < rounding);
}

/// A unit cube as a polyface mesh.
/// @param corners  four of each face, with their signs
std::string polyface(const std::vector<std::array<int, 4>>& corners) {
    std::string text = "0 POLYLINE 8 L 66 1 70 64 71 8 72 6 ";
    for (int i = 0; i < 8; ++i)
        text += "0 VERTEX 8 L 10 " + std::to_string((i & 1) ^ (i >> 1 & 1)) + " 20 " +
                std::to_string(i >> 1 & 1) + " 30 " + std::to_string(i >> 2) + " 70 192 ";
    for (const std::array<int, 4>& face_corners : corners) {
        text += "0 VERTEX 8 L 10 0 20 0 30 0 70 128 ";
        for (std::size_t k = 0; k < 4; ++k)
            if (face_corners[k] != 0)
                text += std::to_string(71 + k) + " " + std::to_string(face_corners[k]) + " ";
    }
    return text + "0 SEQEND ";
}

}  // namespace

TEST_CASE("DXF: a corner whose edge is hidden is still a corner") {
    const TemporaryFolder folder;
    write(folder / "a.dxf", dxf("", polyface({{4, -3, 2, 1},
                                              {5, -6, 7, 8},
                                              {1, -2, 6, 5},
                                              {2, -3, 7, 6},
                                              {3, -4, 8, 7},
                                              {-4, -1, 5, 8}})));
    const Mesh mesh = load_model(folder / "a.dxf", no_cache());
    CHECK(mesh.triangle_count() == 12);
    CHECK(mesh.facts().boundary_edges == 0);
    // Of a triangle with two hidden edges one corner was left.
    write(folder / "b.dxf",
          dxf("", polyface({{4, -3, -2, 0}, {-4, 2, -1, 0}, {-1, -2, 6, 0}, {-1, -6, -5, 0}})));
    CHECK(load_model(folder / "b.dxf", no_cache()).triangle_count() == 4);
}

TEST_CASE("DXF: a block lies where it is inserted") {
    const std::string part = block("part", "10 0 20 0 30 0 ", face);
    SUBCASE("scaled, its place is not") {
        check_box(box_of(dxf(part, "0 INSERT 8 L 2 part 10 5 20 6 30 7 41 2 42 3 43 4 ")),
                  {5, 6, 7}, {9, 9, 19});
    }
    SUBCASE("turned by degrees, against the clock seen from above") {
        check_box(box_of(dxf(part, "0 INSERT 8 L 2 part 10 10 20 0 30 0 50 90 ")), {9, 0, 0},
                  {10, 2, 3});
    }
    SUBCASE("by its base point; letters may be small or capital") {
        check_box(box_of(dxf(block("Part", "10 1 20 1 30 1 ", face),
                             "0 INSERT 8 L 2 PART 10 5 20 5 30 5 41 2 42 2 43 2 ")),
                  {3, 3, 3}, {7, 5, 9});
    }
    SUBCASE("in rows and columns, whose spacing is turned and not scaled") {
        check_box(box_of(dxf(
                      part, "0 INSERT 8 L 2 part 10 0 20 0 30 0 41 2 50 90 70 3 71 2 44 10 45 5 ")),
                  {-6, 0, 0}, {0, 24, 3});
    }
    SUBCASE("with what is inserted in it") {
        check_box(box_of(dxf(part + block("all", "10 0 20 0 30 0 ",
                                          "0 INSERT 8 L 2 part 10 4 20 0 30 0 50 90 " + face),
                             "0 INSERT 8 L 2 all 10 0 20 20 30 0 41 -1 ")),
                  {-4, 20, 0}, {0, 22, 3});
    }
    SUBCASE("on the plane of its extrusion: seen from behind, x runs to the left") {
        check_box(box_of(dxf(part, "0 INSERT 8 L 2 part 10 5 20 0 30 0 210 0 220 0 230 -1 ")),
                  {-7, 0, -3}, {-5, 1, 0});
    }
    SUBCASE("polyface meshes too") {
        check_box(box_of(dxf(block("mesh", "10 0 20 0 30 0 ",
                                   polyface({{4, -3, 2, 1}, {5, 6, 7, 8}, {1, 2, 6, 5}})),
                             "0 INSERT 8 L 2 mesh 10 5 20 0 30 0 41 2 42 2 43 2 ")),
                  {5, 0, 0}, {7, 2, 2});
    }
    SUBCASE("when its end is missing, as far as its section goes") {
        const std::string open = part.substr(0, part.size() - std::string("0 ENDBLK ").size());
        check_box(box_of(dxf(open, "0 INSERT 8 L 2 part 10 5 20 6 30 7 " + face)), {0, 0, 0},
                  {7, 7, 10});
    }
    SUBCASE("and what no insert names is not there") {
        check_box(box_of(dxf(part + block("rest", "10 90 20 0 30 0 ", face),
                             face + "0 INSERT 8 L 2 gone 10 50 20 0 30 0 ")),
                  {0, 0, 0}, {2, 1, 3});
    }
}

TEST_CASE("DXF: blocks that hold themselves or stand for too many are refused") {
    CHECK(refusal_of(dxf(block("a", "", face + "0 INSERT 2 a "), "0 INSERT 2 a "))
              .find("over 100 deep") != std::string::npos);
    CHECK(refusal_of(dxf(block("a", "", ""), "0 INSERT 2 a 70 2000000000 71 2000000000 "))
              .find("expected at most 1000000") != std::string::npos);
}

TEST_CASE("DXF: cut short anywhere it is read or refused") {
    const std::string text = dxf(block("part", "10 0 20 0 30 0 ", face + polyface({{4, -3, 2, 1}})),
                                 face + "0 INSERT 8 L 2 part 10 5 20 6 30 7 41 2 42 3 43 4 ");
    for (std::size_t length = 0; length <= text.size(); ++length)
        CHECK_NOTHROW(prepared_dxf(text.substr(0, length)));
    CHECK_FALSE(prepared_dxf(dxf("", face)));
    // A code at the end, without a value, does not take the next line for it.
    const auto twice = prepared_dxf(
        lines("0 INSERT 2 a 0 INSERT 2 a 0 SECTION 2 BLOCKS 0 BLOCK 2 a " + face + "62"));
    REQUIRE(twice);
    CHECK(twice->find("3DFACE") != twice->rfind("3DFACE"));
    CHECK(twice->find("62") == twice->npos);
}
