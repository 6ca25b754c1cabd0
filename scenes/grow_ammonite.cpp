// grow_ammonite OUT.ply [--triangles N]: grows the demo's model, a fossil ammonite.
//
// The shell coils about the z axis, its spiral lies in the xy plane, and +y is up; lengths are in
// millimetres, 30 mm across. It is one closed tube: from the first chamber to the lip, round the
// lip, back along the inner wall of the mouth, and across the matrix that fills it. The whorls
// overlap without being cut at one another, as a height field does not mind.

#include <charconv>
#include <cstddef>
#include <cstdlib>
#include <exception>
#include <iostream>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "ammonite_surface.hpp"
#include "ply_file.hpp"
#include "ring_plan.hpp"
#include "tube_mesh.hpp"

namespace {

constexpr std::size_t kDefaultTriangles = 800'000;
constexpr std::size_t kFewestTriangles = 5'000;
constexpr std::size_t kMostTriangles = 20'000'000;

Mesh grow(std::size_t wanted_triangles) {
    const AmmoniteSurface surface;
    TubeBuilder tube;
    std::vector<glm::dvec3> points;
    for (const PlannedRing& ring : plan_rings(surface, wanted_triangles)) {
        points.clear();
        for (std::size_t i = 0; i < ring.size; ++i) {
            const double u = static_cast<double>(i) / static_cast<double>(ring.size);
            points.push_back(surface.point_mm(ring.station, u));
        }
        tube.add_ring(points);
    }
    return tube.take();
}

struct Arguments {
    std::string out;
    std::size_t triangles = kDefaultTriangles;
};

std::optional<std::size_t> triangle_number(std::string_view text) {
    std::size_t number = 0;
    const char* end = text.data() + text.size();
    const auto [stop, error] = std::from_chars(text.data(), end, number);
    if (error != std::errc() || stop != end) return std::nullopt;
    if (number < kFewestTriangles || number > kMostTriangles) return std::nullopt;
    return number;
}

std::optional<Arguments> parse(const std::vector<std::string_view>& words) {
    Arguments arguments;
    for (std::size_t i = 0; i < words.size(); ++i) {
        if (words[i] == "--triangles" && i + 1 < words.size()) {
            const auto number = triangle_number(words[++i]);
            if (!number) return std::nullopt;
            arguments.triangles = *number;
        } else if (!words[i].starts_with("-") && arguments.out.empty()) {
            arguments.out = words[i];
        } else {
            return std::nullopt;
        }
    }
    if (arguments.out.empty()) return std::nullopt;
    return arguments;
}

}  // namespace

int main(int argc, char** argv) try {
    const auto arguments = parse({argv + 1, argv + argc});
    if (!arguments) {
        std::cerr << "usage: grow_ammonite OUT.ply [--triangles N], N from " << kFewestTriangles
                  << " to " << kMostTriangles << "\n";
        return EXIT_FAILURE;
    }
    write_ply(arguments->out, grow(arguments->triangles),
              {"a fossil ammonite, grown by grow_ammonite from D. M. Raup's coiling parameters",
               "millimetres; coiled about +z, +y up; one closed surface, wound outwards"});
    return EXIT_SUCCESS;
} catch (const std::exception& error) {
    std::cerr << "grow_ammonite: " << error.what() << "\n";
    return EXIT_FAILURE;
}
