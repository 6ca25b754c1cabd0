#include "model/cage.hpp"

#include <opensubdiv/far/primvarRefiner.h>
#include <opensubdiv/far/topologyDescriptor.h>
#include <algorithm>
#include <cmath>
#include <limits>
#include <memory>

#include "error.hpp"
#include "model/cage_topology.hpp"
#include "model/import_bytes.hpp"

namespace rakelight {
namespace {

namespace Far = OpenSubdiv::Far;
using Descriptor = Far::TopologyDescriptor;
using Factory = Far::TopologyRefinerFactory<Descriptor>;

constexpr int most_times = 7;
// More than any picture of a medal shows; who wants more says how often.
constexpr std::uint64_t enough_triangles = 8'000'000;
// Measured: what the library keeps of all levels, the soup, and the mesh made of it.
constexpr std::uint64_t bytes_per_triangle = 340;

/// What the library averages: a place, in double precision.
struct Place {
    glm::dvec3 at{0.0};
    void Clear(void* = nullptr) { at = glm::dvec3(0.0); }
    void AddWithWeight(const Place& other, float weight) { at += double{weight} * other.at; }
};

/// Triangles after so many times: a polygon of n corners becomes n quads at first, or a triangle
/// four, and each of those four each time after.
std::uint64_t count_after(std::uint64_t polygons, std::uint64_t corners, CageRule rule, int times) {
    return (rule == CageRule::loop ? 4 * polygons : 2 * corners) << (2 * (times - 1));
}

std::uint64_t count_after(const std::vector<Cage>& cages, CageRule rule, int times) {
    std::uint64_t count = 0;
    for (const Cage& cage : cages)
        count += count_after(cage.polygons(), cage.corners.size(), rule, times);
    return count;
}

[[noreturn]] void refuse_size(const std::vector<Cage>& cages, CageRule rule, int times) {
    int fits = times;
    while (fits > 0 && count_after(cages, rule, fits) * bytes_per_triangle > import_limit_bytes())
        --fits;
    const std::uint64_t triangles = count_after(cages, rule, times);
    throw Error(ExitCode::bad_model, "subdivided " + std::to_string(times) +
                                         " times it would have " + std::to_string(triangles) +
                                         " triangles and take about " +
                                         std::to_string((triangles * bytes_per_triangle) >> 20) +
                                         " MiB; the import may take " +
                                         std::to_string(import_limit_bytes() >> 20) + " MiB; " +
                                         (fits > 0 ? "set subdivide_times = " + std::to_string(fits)
                                                   : std::string("leave subdivide out")) +
                                         " or raise the import's memory limit");
}

double longest_side(const std::vector<Cage>& cages) {
    glm::dvec3 low(std::numeric_limits<double>::infinity()), high(-low);
    for (const Cage& cage : cages)
        for (const glm::vec3& p : cage.points) {
            low = glm::min(low, glm::dvec3(p));
            high = glm::max(high, glm::dvec3(p));
        }
    const glm::dvec3 size = high - low;
    return std::max({size.x, size.y, size.z});
}

/// How often: as asked, or until the longest edge is short enough or there are enough triangles.
int times_for(const std::vector<Cage>& cages, const CageSettings& settings) {
    int times = settings.times.value_or(1);
    if (!settings.times) {
        const double wanted = settings.edge_share * longest_side(cages);
        const double ratio = wanted > 0.0 ? longest_edge(cages) / wanted : 1.0;
        times =
            std::clamp(static_cast<int>(std::ceil(std::log2(std::max(ratio, 1.0)))), 1, most_times);
        while (times > 1 && count_after(cages, settings.rule, times) > enough_triangles) --times;
    }
    if (count_after(cages, settings.rule, times) * bytes_per_triangle > import_limit_bytes())
        refuse_size(cages, settings.rule, times);
    return times;
}

std::unique_ptr<Far::TopologyRefiner> refiner_of(const Cage& cage, const CageSettings& settings) {
    const std::vector<int> creases = creases_of(cage, settings.crease_deg);
    const std::vector<float> sharp(creases.size() / 2, OpenSubdiv::Sdc::Crease::SHARPNESS_INFINITE);
    Descriptor descriptor;
    descriptor.numVertices = static_cast<int>(cage.points.size());
    descriptor.numFaces = static_cast<int>(cage.sizes.size());
    descriptor.numVertsPerFace = cage.sizes.data();
    descriptor.vertIndicesPerFace = cage.corners.data();
    descriptor.numCreases = static_cast<int>(sharp.size());
    descriptor.creaseVertexIndexPairs = creases.data();
    descriptor.creaseWeights = sharp.data();
    OpenSubdiv::Sdc::Options rules;
    rules.SetVtxBoundaryInterpolation(OpenSubdiv::Sdc::Options::VTX_BOUNDARY_EDGE_AND_CORNER);
    Factory::Options options(settings.rule == CageRule::loop ? OpenSubdiv::Sdc::SCHEME_LOOP
                                                             : OpenSubdiv::Sdc::SCHEME_CATMARK,
                             rules);
    options.validateFullTopology = true;
    std::unique_ptr<Far::TopologyRefiner> refiner(Factory::Create(descriptor, options));
    if (refiner) return refiner;
    throw Error(ExitCode::bad_model,
                "its " + std::to_string(cage.polygons()) +
                    " polygons are no surface that can be subdivided; expected polygons of which "
                    "each edge has one or two; leave subdivide out, or mend the cage");
}

/// The cage's points on the limit surface, and the part of every face of the last level.
class Limit {
public:
    Limit(const Cage& cage, const CageSettings& settings, int times)
        : refiner_(refiner_of(cage, settings)) {
        Far::TopologyRefiner::UniformOptions options(times);
        options.fullTopologyInLastLevel = true;  // which the limit needs
        refiner_->RefineUniform(options);
        std::vector<Place> places;
        for (const glm::vec3& p : cage.points) places.push_back({glm::dvec3(p)});
        parts_ = cage.parts;
        const Far::PrimvarRefiner refiner(*refiner_);
        for (int level = 1; level <= times; ++level) {
            std::vector<Place> finer(
                static_cast<std::size_t>(refiner_->GetLevel(level).GetNumVertices()));
            refiner.Interpolate(level, places, finer);
            places = std::move(finer);
            pass_parts_on(level);
        }
        places_.resize(places.size());
        refiner.Limit(places, places_);
    }

    void append_to(Soup& soup, std::uint32_t part) const {
        const Far::TopologyLevel& level = last();
        for (int face = 0; face < level.GetNumFaces(); ++face) {
            if (parts_[static_cast<std::size_t>(face)] != part) continue;
            const Far::ConstIndexArray corners = level.GetFaceVertices(face);
            append(soup, corners);
        }
    }

    void append_places(Soup& soup) {
        first_ = static_cast<std::uint32_t>(soup.positions.size());
        for (const Place& place : places_) soup.positions.emplace_back(place.at);
    }

private:
    const Far::TopologyLevel& last() const { return refiner_->GetLevel(refiner_->GetMaxLevel()); }

    void pass_parts_on(int level) {
        const Far::TopologyLevel& finer = refiner_->GetLevel(level);
        std::vector<std::uint32_t> parts(static_cast<std::size_t>(finer.GetNumFaces()));
        for (int face = 0; face < finer.GetNumFaces(); ++face)
            parts[static_cast<std::size_t>(face)] =
                parts_[static_cast<std::size_t>(finer.GetFaceParentFace(face))];
        parts_ = std::move(parts);
    }

    // A quad is split along its shorter diagonal.
    void append(Soup& soup, const Far::ConstIndexArray& corners) const {
        const auto put = [&](int a, int b, int c) {
            for (const int k : {a, b, c})
                soup.indices.push_back(first_ + static_cast<std::uint32_t>(corners[k]));
        };
        if (corners.size() == 3) return put(0, 1, 2);
        const auto at = [&](int k) { return places_[static_cast<std::size_t>(corners[k])].at; };
        if (glm::distance(at(0), at(2)) <= glm::distance(at(1), at(3))) {
            put(0, 1, 2);
            put(0, 2, 3);
        } else {
            put(0, 1, 3);
            put(1, 2, 3);
        }
    }

    std::unique_ptr<Far::TopologyRefiner> refiner_;
    std::vector<Place> places_;
    std::vector<std::uint32_t> parts_;
    std::uint32_t first_ = 0;
};

std::string told(const CageSettings& settings, int times, std::size_t polygons,
                 std::uint64_t triangles) {
    return std::string(settings.rule == CageRule::loop ? "loop" : "catmull-clark") + ", " +
           std::to_string(times) + (times == 1 ? " time" : " times") + ": " +
           std::to_string(polygons) + " polygons became " + std::to_string(triangles) +
           " triangles";
}

}  // namespace

std::uint64_t subdivision_bytes(std::uint64_t triangles, CageRule rule, int times) {
    return bytes_per_triangle * count_after(triangles, 3 * triangles, rule, times);
}

Soup subdivide(Soup&& cage_soup, const CageSettings& settings) {
    Soup smooth;
    smooth.facts = std::move(cage_soup.facts);
    const auto cages = find_cages(cage_soup, settings.rule == CageRule::loop, smooth.facts);
    if (cages.empty()) return smooth;  // refused as a file without triangles is
    const int times = times_for(cages, settings);
    std::size_t polygons = 0;
    for (const Cage& cage : cages) {
        polygons += cage.polygons();
        Limit limit(cage, settings, times);
        limit.append_places(smooth);
        // A cage's parts follow each other.
        for (std::uint32_t part = cage.parts.front(); part <= cage.parts.back(); ++part) {
            PartRange range = cage_soup.parts[part];
            range.first_triangle = static_cast<std::uint32_t>(smooth.indices.size() / 3);
            limit.append_to(smooth, part);
            range.triangle_count =
                static_cast<std::uint32_t>(smooth.indices.size() / 3) - range.first_triangle;
            range.has_normals = false;
            smooth.parts.push_back(std::move(range));
        }
    }
    smooth.facts.subdivision =
        told(settings, times, polygons, static_cast<std::uint64_t>(smooth.indices.size() / 3));
    return smooth;
}

}  // namespace rakelight
