// What the plain readers are made of: numbers, cut lines, triangles of polygons; and that no file,
// however damaged, makes them fail in another way than by saying so.

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <random>

#include "error.hpp"
#include "model/flat_mesh.hpp"
#include "model/readers/plain_readers.hpp"
#include "model/readers/polygons.hpp"
#include "model/readers/text_scan.hpp"
#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;
namespace fs = std::filesystem;

namespace {

bool same_float(float a, float b) {
    return std::memcmp(&a, &b, sizeof a) == 0 || (std::isnan(a) && std::isnan(b));
}

float scanned(const std::string& text) {
    TextScan scan(text);
    const float value = scan.number();
    CHECK(scan.at_end());
    return value;
}

bool is_number(const std::string& text) {
    try {
        TextScan(text).number();
        return true;
    } catch (const Unfamiliar&) {
        return false;
    }
}

std::vector<std::array<std::uint32_t, 3>> triangles_of(const std::vector<glm::vec3>& corners) {
    Array<glm::vec3> positions(corners.begin(), corners.end());
    Polygons polygons;
    for (std::uint32_t i = 0; i < corners.size(); ++i) polygons.corners.push_back(i);
    polygons.end_polygon(static_cast<std::uint32_t>(corners.size()));
    cut_to_triangles(polygons, positions);
    std::vector<std::array<std::uint32_t, 3>> triangles;
    for (std::size_t i = 0; i < polygons.corners.size(); i += 3)
        triangles.push_back(
            {polygons.corners[i], polygons.corners[i + 1], polygons.corners[i + 2]});
    return triangles;
}

glm::dvec3 area(const std::vector<glm::vec3>& p, const std::array<std::uint32_t, 3>& t) {
    const glm::dvec3 a(p[t[0]]), b(p[t[1]]), c(p[t[2]]);
    return 0.5 * glm::cross(b - a, c - a);
}

// The shoelace formula, in space: half the sum of the cross products along the outline.
glm::dvec3 area(const std::vector<glm::vec3>& p) {
    glm::dvec3 sum(0.0);
    for (std::size_t i = 0; i < p.size(); ++i)
        sum += glm::cross(glm::dvec3(p[i]), glm::dvec3(p[(i + 1) % p.size()]));
    return 0.5 * sum;
}

// A simple polygon of n corners has n - 2 triangles (Meisters 1975), which add up to its area; when
// all of them are turned as it is, none overlap.
void check_cut(const std::vector<glm::vec3>& corners) {
    const auto triangles = triangles_of(corners);
    CHECK(triangles.size() == corners.size() - 2);
    const glm::dvec3 whole = area(corners);
    glm::dvec3 sum(0.0);
    for (const auto& t : triangles) {
        CHECK(glm::dot(area(corners, t), whole) > 0.0);
        sum += area(corners, t);
    }
    CHECK(glm::length(sum - whole) < 1e-9 * glm::length(whole));
}

/// Reads what the bytes make, wherever that ends; true when it was read.
bool survives(const fs::path& file, const std::string& bytes) {
    fs::remove(file);  // writing a file anew is slow on some systems
    write(file, bytes);
    try {
        RecordingIo io(file, stamp_of(file));
        auto soup = read_plain_format(file, io, ReadingSettings());
        if (!soup) return false;
        std::uint64_t next = 0;
        for (const PartRange& part : soup->parts) {
            REQUIRE(part.first_triangle == next);
            next += part.triangle_count;
        }
        REQUIRE(3 * next == soup->indices.size());
        for (const std::uint32_t i : soup->indices) REQUIRE(i < soup->positions.size());
        REQUIRE((soup->normals.empty() || soup->normals.size() == soup->positions.size()));
        build_flat_mesh(std::move(*soup), {});
        return true;
    } catch (const Error& e) {
        REQUIRE(e.code() == ExitCode::bad_model);
        return false;
    }
}

struct Sample {
    const char* name;
    std::string bytes;
};

std::vector<Sample> samples() {
    Model m = tetrahedron();
    const std::string polygons =
        "v 0 0 0\nv 2 0 0\nv 2 2 0\nv 0 2 0\nv 1 1 3\nvn 0 0 1\nvt 0 0\no ring\nusemtl gold\n"
        "f 1 2 3 4\nf -5/1 -4/1 \\\n -1/1\ng a b\nf 2//1 3//1 5//1\nl 1 2\nf 1 2 3 4 5\n";
    const std::string strips =
        "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\n"
        "property float z\nelement tristrips 2\nproperty list int int vertex_indices\n"
        "end_header\n0 0 0\n1 0 0\n0 1 0\n0 0 1\n6 0 2 1 3 -1 0\n4 0 3 2 1\n";
    std::vector<Sample> all{{"a.ply", as_ply(m)}, {"b.ply", as_binary_ply(m)}, {"a.obj", as_obj(m)},
                            {"b.obj", polygons},  {"a.stl", as_binary_stl(m)}, {"b.stl", as_stl(m)},
                            {"d.ply", strips}};
    for (const glm::vec3& p : m.points) m.normals.push_back(p);
    all.push_back({"c.ply", as_binary_ply(m)});
    return all;
}

}  // namespace

// The C library rounds correctly in all modes (glibc manual, "Parsing of Floats").
TEST_CASE("numbers are the nearest floats") {
    std::mt19937_64 random(11);
    const auto digits = [&](int count) {
        std::string text;
        for (int i = 0; i < count; ++i) text += static_cast<char>('0' + random() % 10);
        return text;
    };
    for (int i = 0; i < 400'000; ++i) {
        std::string text = random() % 2 != 0 ? "-" : "";
        text += digits(1 + static_cast<int>(random() % 9));
        if (random() % 4 != 0) text += "." + digits(static_cast<int>(random() % 12));
        if (random() % 4 == 0) text += "e" + std::to_string(static_cast<int>(random() % 90) - 50);
        CAPTURE(text);
        REQUIRE(same_float(scanned(text), std::strtof(text.c_str(), nullptr)));
    }
}

// Half-way between two floats, and a little beside it: a double in between would round twice.
TEST_CASE("numbers half-way between two floats are rounded once") {
    std::mt19937 random(5);
    for (int i = 0; i < 100'000; ++i) {
        const float low = std::ldexp(1.0f + static_cast<float>(random() % (1u << 23)) * 0x1p-23f,
                                     static_cast<int>(random() % 40) - 20);
        const double middle = 0.5 * (double{low} + double{std::nextafter(low, INFINITY)});
        char text[64];
        for (const int places : {12, 15, 17, 18, 30}) {
            std::snprintf(text, sizeof text, "%.*g", places, middle);
            CAPTURE(std::string(text));
            REQUIRE(same_float(scanned(text), std::strtof(text, nullptr)));
        }
    }
}

TEST_CASE("numbers of every kind, and what is none") {
    for (const char* text : {"0",
                             "-0",
                             "5.",
                             ".5",
                             "1e5",
                             "1E+05",
                             "1e-60",
                             "-1e60",
                             "1e400",
                             "1e-400",
                             "1e-40",
                             "3.4028235e38",
                             "nan",
                             "-inf",
                             "Infinity",
                             "12345678901234567890",
                             "0.00000000000000000000000000001",
                             "123456789012345678901234567890e-20",
                             "16777217",
                             "1e0000005"}) {
        CAPTURE(std::string(text));
        CHECK(same_float(scanned(text), std::strtof(text, nullptr)));
    }
    CHECK(same_float(scanned("+1.5"), 1.5f));
    CHECK(same_float(scanned("  \t2"), 2.0f));
    CHECK(same_float(scanned(" \\\n 2"), 2.0f));
    for (const char* text : {"", "-", "+", ".", "e5", "1e", "1e+", "1x", "1,5", "0x10", "--1",
                             "+-1", "1.2.3", "1.#INF", "\n1", "\\ 1"}) {
        CAPTURE(std::string(text));
        CHECK_FALSE(is_number(text));
    }
}

TEST_CASE("a text is cut at ends of lines only, and not at lines that go on") {
    std::string text;
    for (int i = 0; i < 300; ++i)
        text += std::string(static_cast<std::size_t>(i * 7 % 23), 'x') + (i % 5 == 0 ? "\\" : "") +
                (i % 3 == 0 ? "\r\n" : "\n");
    for (std::size_t size = 1; size < 400; ++size) {
        std::string again;
        for (const std::string_view run : cut_at_lines(text, size)) {
            CHECK_FALSE(run.empty());
            again += run;
            if (again.size() == text.size()) continue;
            REQUIRE(run.ends_with('\n'));
            REQUIRE_FALSE(run.ends_with("\\\n"));
            REQUIRE_FALSE(run.ends_with("\\\r\n"));
        }
        REQUIRE(again == text);
    }
    CHECK(cut_at_lines("", 10).empty());
    CHECK(cut_at_lines("no end of line", 3).size() == 1);
}

TEST_CASE("quadrangles are cut within themselves, wherever they are concave or straight") {
    const std::vector<glm::vec3> arrow{{0, 0, 0}, {4, 1, 0}, {1, 1, 0}, {1, 4, 0}};
    const std::vector<glm::vec3> straight{{0, 0, 0}, {2, 0, 0}, {4, 0, 0}, {0, 4, 0}};
    const std::vector<glm::vec3> square{{0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0}};
    for (const auto& shape : {arrow, straight, square})
        for (std::size_t turn = 0; turn < 4; ++turn)
            for (int axis = 0; axis < 3; ++axis)
                for (const bool back : {false, true}) {
                    std::vector<glm::vec3> p = shape;
                    std::rotate(p.begin(), p.begin() + std::ptrdiff_t(turn), p.end());
                    for (glm::vec3& v : p)
                        v = axis == 0
                                ? v
                                : (axis == 1 ? glm::vec3(v.z, v.x, v.y) : glm::vec3(v.y, v.z, v.x));
                    if (back) std::reverse(p.begin(), p.end());
                    check_cut(p);
                }
}

TEST_CASE("polygons are cut within themselves: stars, combs, and corners that are straight") {
    for (std::size_t n = 5; n < 40; ++n) {
        std::vector<glm::vec3> star, comb, convex;
        for (std::size_t i = 0; i < 2 * n; ++i) {
            const double angle = M_PI * double(i) / double(n), r = i % 2 == 0 ? 2.0 : 0.7;
            star.emplace_back(r * std::cos(angle), r * std::sin(angle), 0.25 * r * std::cos(angle));
            convex.emplace_back(std::cos(angle), std::sin(angle), 0.0);
        }
        for (std::size_t i = 0; i < n; ++i) comb.emplace_back(i, i % 2 == 0 ? 0.0 : 9.0, 0.0);
        comb.emplace_back(n, 10.0, 0.0);
        comb.emplace_back(0.5 * double(n), 10.0, 0.0);  // straight
        comb.emplace_back(-1.0, 10.0, 0.0);
        for (auto* shape : {&star, &comb, &convex}) {
            check_cut(*shape);
            std::rotate(shape->begin(), shape->begin() + 3, shape->end());
            check_cut(*shape);
            std::reverse(shape->begin(), shape->end());
            check_cut(*shape);
        }
    }
}

TEST_CASE("polygons that are none keep their number of triangles") {
    CHECK(triangles_of({{0, 0, 0}, {2, 2, 0}, {2, 0, 0}, {0, 2, 0}, {1, 3, 0}}).size() == 3);
    CHECK(triangles_of({{1, 1, 1}, {1, 1, 1}, {1, 1, 1}, {1, 1, 1}, {1, 1, 1}}).size() == 3);
    const float nan = std::nanf("");
    CHECK(triangles_of({{0, 0, 0}, {nan, 2, 0}, {2, 0, nan}, {0, nan, 0}, {1, 3, 0}}).size() == 3);
    CHECK(triangles_of({{0, 0, 0}, {1, 0, 0}}).empty());
}

TEST_CASE("every truncation of a small file is read, left or refused, never worse") {
    const TemporaryFolder folder;
    for (const Sample& sample : samples()) {
        CAPTURE(std::string(sample.name));
        REQUIRE(survives(folder / sample.name, sample.bytes));
        for (std::size_t size = 1; size < sample.bytes.size(); ++size)
            survives(folder / sample.name, sample.bytes.substr(0, size));
    }
}

TEST_CASE("a file that is cut short in its data is refused for that") {
    const TemporaryFolder folder;
    const auto check = [&](const std::string& name, const std::string& bytes, std::size_t from) {
        for (std::size_t size = from; size < bytes.size(); ++size) {
            write(folder / name, bytes.substr(0, size));
            CAPTURE(size);
            const std::string message = bad_model_message(folder / name);
            CAPTURE(message);
            REQUIRE(message.find(name + ": it is cut short: ") != std::string::npos);
        }
    };
    const std::string binary = as_binary_ply(tetrahedron());
    check("a.ply", binary, binary.find("end_header\n") + 11);
    check("a.stl", as_binary_stl(tetrahedron()), 85);
    // The last digit of a text may be missing without a trace, so that is as far as it goes.
    const std::string text = as_ply(tetrahedron());
    check("b.ply", text.substr(0, text.size() - 2), text.find("end_header\n") + 11);
}

TEST_CASE("damaged bytes are read, left or refused, never worse") {
    const TemporaryFolder folder;
    std::mt19937 random(2);
    int read = 0;
    for (const Sample& sample : samples()) {
        CAPTURE(std::string(sample.name));
        for (int i = 0; i < 1500; ++i) {
            std::string bytes = sample.bytes;
            for (auto n = 1 + random() % 3; n > 0; --n) {
                char& byte = bytes[random() % bytes.size()];
                byte = static_cast<char>(random() % 2 != 0 ? random() % 256
                                                           : unsigned(" \n\\/-0.e"[random() % 8]));
            }
            read += survives(folder / sample.name, bytes);
        }
    }
    CHECK(read > 500);  // a good part was not so bad
}
