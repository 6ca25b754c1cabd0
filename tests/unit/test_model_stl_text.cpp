// Text STL (3D Systems 1989, "StereoLithography Interface Specification", from memory; what else
// occurs is common practice).

#include <doctest/doctest.h>

#include <algorithm>
#include <cstring>

#include "error.hpp"
#include "model/import_need.hpp"
#include "model/readers/plain_readers.hpp"
#include "model/readers/stl_layout.hpp"
#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;

namespace {

std::string facet(const std::string& x = "0") {
    return "facet normal 0 0 1\n outer loop\n  vertex " + x +
           " 0 0\n  vertex 1 0 0\n"
           "  vertex 0 1 0\n endloop\nendfacet\n";
}

std::string solid(const std::string& name, const std::string& facets = facet()) {
    return "solid " + name + "\n" + facets + "endsolid " + name + "\n";
}

std::optional<Soup> read_plainly(const std::string& bytes,
                                 NormalSource normals = NormalSource::automatic) {
    const TemporaryFolder folder;
    write(folder / "a.stl", bytes);
    RecordingIo io(folder / "a.stl", stamp_of(folder / "a.stl"));
    return read_plain_format(folder / "a.stl", io, {.normals = normals});
}

std::string refused(const std::string& bytes) {
    const TemporaryFolder folder;
    write(folder / "a.stl", bytes);
    return bad_model_message(folder / "a.stl");
}

std::vector<std::string> part_names(const std::string& bytes) {
    const auto soup = read_plainly(bytes);
    REQUIRE(soup.has_value());
    std::vector<std::string> names;
    for (const PartRange& part : soup->parts) names.push_back(part.name);
    return names;
}

using Names = std::vector<std::string>;

}  // namespace

TEST_CASE("text STL: a solid's name is the rest of its line") {
    CHECK(part_names(solid("body one") + solid("stand base  ") + solid("")) ==
          Names{"body one", "stand base", "part"});
    CHECK(part_names(solid("C:\\models\\a b.stl")) == Names{"C:\\models\\a b.stl"});
    CHECK(part_names(solid("facet of a gem")) == Names{"facet of a gem"});
    // A solid of nothing is no part.
    CHECK(part_names(solid("none", "") + solid("one")) == Names{"one"});
}

TEST_CASE("text STL: letters of any alphabet, marks, case and line ends") {
    CHECK(part_names(solid("K\xC3\xB6rper")) == Names{"K\xC3\xB6rper"});
    CHECK(part_names(solid("K\xF6rper")) == Names{"K\xC3\xB6rper"});  // Latin-1
    CHECK(part_names("\xEF\xBB\xBF" + solid("x")) == Names{"x"});
    std::string text = solid("Body");
    std::transform(text.begin(), text.end(), text.begin(), [](char c) { return std::toupper(c); });
    CHECK(part_names(text) == Names{"BODY"});
    std::string lines = solid("x");
    std::replace(lines.begin(), lines.end(), '\n', '\r');
    CHECK(part_names(lines) == Names{"x"});
}

TEST_CASE("text STL: corners of one place are one vertex, normals come when asked for") {
    const std::string text = solid("x", facet() + facet());
    const auto made = read_plainly(text), own = read_plainly(text, NormalSource::file);
    REQUIRE((made && own));
    CHECK(made->positions.size() == 3);
    CHECK(made->indices.size() == 6);
    CHECK(own->positions.size() == 6);
    CHECK(own->normals[5] == glm::vec3(0, 0, 1));
    // -0 is where 0 is.
    CHECK(read_plainly(solid("x", facet("-0")))->positions[0] == glm::vec3(0, 0, 0));
    CHECK(read_plainly(solid("x", facet("nan") + facet()))->positions.size() == 4);
}

TEST_CASE("text STL that is cut within a facet is refused, and told where it lacks its end") {
    const std::string whole = solid("x", facet() + facet("2"));
    const std::size_t head = std::strlen("solid x\n"), facet_bytes = facet().size();
    const std::size_t end = whole.find("endsolid");
    for (std::size_t size = head + 1; size < whole.size(); ++size) {
        CAPTURE(whole.substr(0, size));
        const std::size_t rest = (size - head) % facet_bytes;
        // Without the last line end, too, a facet is whole.
        if (size >= end || rest == 0 || rest == facet_bytes - 1) {
            const auto soup = read_plainly(whole.substr(0, size));
            REQUIRE(soup.has_value());
            REQUIRE(soup->facts.warnings.size() == (size < end + 8 ? 1 : 0));
            continue;
        }
        const std::string message = refused(whole.substr(0, size));
        CAPTURE(message);
        REQUIRE(message.find("it is cut short: its text ends within facet ") != std::string::npos);
    }
    CHECK(read_plainly(whole)->facts.warnings.empty());
    CHECK(read_plainly(whole.substr(0, end))->facts.warnings.at(0) ==
          "the file ends without \"endsolid\", after 2 whole facets; were it cut short there, "
          "facets would be missing");
}

TEST_CASE("STL: what is binary stays so, and its memory is reckoned alike") {
    const std::string text = solid("K\xC3\xB6rper", facet() + facet());
    CHECK(is_text_stl(text, text.size()));
    std::string binary = as_binary_stl(tetrahedron());
    std::memcpy(binary.data(), "SOLID shape", 11);
    CHECK_FALSE(is_text_stl(binary, binary.size()));
    binary[80] = 3;  // with bytes behind the last triangle
    CHECK_FALSE(is_text_stl(binary, binary.size()));
    const TemporaryFolder folder;
    write(folder / "a.stl", text);
    write(folder / "b.stl", binary);
    CHECK(import_need(folder / "a.stl", text.size(), {}).triangles == 0);
    CHECK(import_need(folder / "b.stl", binary.size(), {}).triangles == 3);
}

TEST_CASE("text STL is left to the importer where it holds other words") {
    CHECK_FALSE(read_plainly(solid("x", "colour 1 0 0\n" + facet())).has_value());
    CHECK_FALSE(read_plainly(solid("x", "")).has_value());
}
