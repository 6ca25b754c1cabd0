// PLY with triangle strips, as archives of scans have them: an element "tristrips" with one list or
// several, in which -1 ends a strip (from memory). How strips are wound: OpenGL 4.1 core
// specification, section 2.6.1, "Triangle Strips" (from memory): the first two corners of every
// second triangle change places.

#include <doctest/doctest.h>

#include <cstring>

#include "error.hpp"
#include "model/import_need.hpp"
#include "model/readers/plain_readers.hpp"
#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;

namespace {

using Corners = std::vector<std::int64_t>;
using Lists = std::vector<Corners>;

enum class Layout : std::uint8_t { text, little, big };

struct Strips {
    Layout layout = Layout::text;
    Lists lists = {};
    Lists faces = {};
    std::string type = "int";  ///< of the corners: int, short or uint
    Model model = tetrahedron();
};

template <class T>
void put(std::string& bytes, T value, Layout layout) {
    std::string raw(reinterpret_cast<const char*>(&value), sizeof value);
    if (layout == Layout::big) raw = {raw.rbegin(), raw.rend()};
    bytes += raw;
}

std::string list_bytes(const Corners& corners, const Strips& strips) {
    std::string bytes;
    if (strips.layout == Layout::text) {
        bytes = std::to_string(corners.size());
        for (const auto corner : corners) bytes += " " + std::to_string(corner);
        return bytes + "\n";
    }
    put(bytes, static_cast<std::int32_t>(corners.size()), strips.layout);
    for (const auto corner : corners)
        if (strips.type == "short")
            put(bytes, static_cast<std::int16_t>(corner), strips.layout);
        else
            put(bytes, static_cast<std::uint32_t>(corner), strips.layout);
    return bytes;
}

std::string point_bytes(glm::vec3 p, Layout layout) {
    if (layout == Layout::text)
        return std::to_string(p.x) + " " + std::to_string(p.y) + " " + std::to_string(p.z) + "\n";
    std::string bytes;
    for (int k = 0; k < 3; ++k) put(bytes, p[k], layout);
    return bytes;
}

std::string as_strips(const Strips& strips) {
    static const char* const names[] = {"ascii", "binary_little_endian", "binary_big_endian"};
    const auto element = [&](const std::string& name, std::size_t count) {
        return "element " + name + " " + std::to_string(count) + "\nproperty list int " +
               strips.type + " vertex_indices\n";
    };
    std::string bytes = std::string("ply\nformat ") + names[static_cast<int>(strips.layout)] +
                        " 1.0\nelement vertex " + std::to_string(strips.model.points.size()) +
                        "\nproperty float x\nproperty float y\nproperty float z\n";
    if (!strips.faces.empty()) bytes += element("face", strips.faces.size());
    bytes += element("tristrips", strips.lists.size()) + "end_header\n";
    for (const glm::vec3& p : strips.model.points) bytes += point_bytes(p, strips.layout);
    for (const Lists* lists : {&strips.faces, &strips.lists})
        for (const Corners& corners : *lists) bytes += list_bytes(corners, strips);
    return bytes;
}

std::vector<std::uint32_t> indices_of(const Strips& strips) {
    const TemporaryFolder folder;
    write(folder / "a.ply", as_strips(strips));
    RecordingIo io(folder / "a.ply", stamp_of(folder / "a.ply"));
    const auto soup = read_plain_format(folder / "a.ply", io, {});
    REQUIRE(soup.has_value());
    REQUIRE(soup->parts.size() == 1);
    CHECK(3 * std::size_t{soup->parts[0].triangle_count} == soup->indices.size());
    return {soup->indices.begin(), soup->indices.end()};
}

std::string refused(const Strips& strips) {
    const TemporaryFolder folder;
    write(folder / "a.ply", as_strips(strips));
    return bad_model_message(folder / "a.ply");
}

constexpr Layout layouts[] = {Layout::text, Layout::little, Layout::big};

using Indices = std::vector<std::uint32_t>;

}  // namespace

TEST_CASE("PLY strips: all triangles, wound in turn, in text and both byte orders") {
    for (const Layout layout : layouts)
        for (const char* type : {"int", "short", "uint"}) {
            CAPTURE(type);
            // Outward, as tetrahedron() is.
            CHECK(indices_of({layout, {{0, 2, 1, 3, 0, 2}}, {}, type}) ==
                  Indices{0, 2, 1, 1, 2, 3, 1, 3, 0, 0, 3, 2});
            // After -1 a new one begins, and so does a new list.
            const Indices two{0, 2, 1, 1, 2, 3, 1, 3, 0};
            const std::int64_t end = type == std::string("uint") ? 0xFFFFFFFF : -1;
            CHECK(indices_of({layout, {{0, 2, 1, 3, end, 1, 3, 0, end}}, {}, type}) == two);
            CHECK(indices_of({layout, {{0, 2, 1, 3}, {}, {1}, {1, 3, 0}}, {}, type}) == two);
        }
}

TEST_CASE("PLY strips: the mesh is whole, closed and wound outwards") {
    const TemporaryFolder folder;
    write(folder / "a.ply", as_strips({Layout::little, {{0, 2, 1, 3, 0, 2}}}));
    const Mesh mesh = load_model(folder / "a.ply", no_cache());
    CHECK(mesh.facts().flipped_windings == 0);
    CHECK(mesh.facts().boundary_edges == 0);
    CHECK(volume(mesh) == doctest::Approx(1.0 / 6.0));  // a third of base and height
    // As a cage too, which is read for its polygons.
    LoadOptions cage = no_cache();
    cage.reading.cage.rule = CageRule::loop;
    cage.reading.cage.times = 1;
    CHECK(load_model(folder / "a.ply", cage).triangle_count() == 16);
}

TEST_CASE("PLY strips: a vertex that comes twice joins strips and makes no triangle") {
    CHECK(indices_of({Layout::text, {{0, 2, 1, 1, 1, 3, 0}}}) == Indices{0, 2, 1, 1, 3, 0});
    CHECK(indices_of({Layout::little, {{0, 2, 0, 2}}, {{0, 2, 1}}}) == Indices{0, 2, 1});
}

TEST_CASE("PLY strips: faces beside them are taken too") {
    for (const Layout layout : layouts) {
        CHECK(indices_of({layout, {{0, 1, 3}}, {{0, 2, 1}, {0, 3, 2}}}) ==
              Indices{0, 2, 1, 0, 3, 2, 0, 1, 3});
        Strips square{layout, {{0, 1, 3}}, {{0, 1, 2, 3}}};
        square.model.points = {{0, 0, 0}, {1, 0, 0}, {1, 1, 0}, {0, 1, 0}};
        CHECK(indices_of(square).size() == 9);
    }
}

TEST_CASE("PLY strips that are damaged or unusual are refused with the reason") {
    const auto has = [](const std::string& text, const std::string& part) {
        CAPTURE(text);
        CHECK(text.find(part) != std::string::npos);
    };
    for (const Layout layout : layouts) {
        has(refused({layout, {{0, 2, 1, 4}}}), "a face names vertex 4 of 4 (counted from 0)");
        has(refused({layout, {{0, 2, 1, -2}}}), "a face names vertex -2 of 4 (counted from 0)");
    }
    const TemporaryFolder folder;
    std::string bytes = as_strips({Layout::big, {{0, 2, 1, 3}}});
    write(folder / "cut.ply", bytes.substr(0, bytes.size() - 1));
    has(bad_model_message(folder / "cut.ply"),
        "it is cut short: its header promises 1 of element "
        "\"tristrips\", it ends after 0");
    bytes.replace(bytes.find("vertex_indices"), 14, "corners_of_it!");
    write(folder / "other.ply", bytes);
    has(bad_model_message(folder / "other.ply"),
        "its triangle strips (element \"tristrips\") are not in the usual form");
}

TEST_CASE("PLY: a negative number of a vertex is told as it stands") {
    for (const Layout layout : layouts)
        CHECK(refused({layout, {{0, 2, 1}}, {{0, -1, 2}}})
                  .find("a face names vertex -1 of 4 (counted from 0)") != std::string::npos);
    // Not as what its lower 32 bits are.
    CHECK(refused({Layout::text, {{0, 2, 1}}, {{0, 4294967296, 2}}}).find("a face names vertex") !=
          std::string::npos);
}

TEST_CASE("PLY strips count for the memory that is reckoned beforehand") {
    for (const Layout layout : layouts) {
        Strips strips{layout, {Corners(3000)}};
        strips.model.points.assign(2000, glm::vec3(1.0f / 3.0f));
        for (std::size_t i = 0; i < 3000; ++i)
            strips.lists[0][i] = static_cast<std::int64_t>(i % 2000);
        const std::string bytes = as_strips(strips);
        const TemporaryFolder folder;
        write(folder / "a.ply", bytes);
        const ImportNeed need = import_need(folder / "a.ply", bytes.size(), {});
        CHECK(need.triangles >= 2998);
        // In text the coordinates could be shorter than they are here, by 21 bytes a vertex, and
        // numbers of four digits take five bytes, not the four that are reckoned with.
        CHECK(need.triangles <= (layout == Layout::text ? 3000 * 5 / 4 + 2000 * 21 / 4 : 3001));
    }
}
