// What lies behind the first surface: every triangle that a line of sight crosses, sorted, and read
// like brackets. A triangle that faces the viewer opens, one that faces away closes the last that
// is open; what is open is solid. A bracket without its other half is an open sheet of no
// thickness, seen from either side, with space right behind it. Where nothing is left over, as with
// closed shells, that is the winding number's inside, so that shells may reach into each other.

#include <algorithm>
#include <span>

#include "render/tile_samples.hpp"

namespace rakelight {
namespace {

// So many rows at a time keep the crossings of one thread small even in deep models.
constexpr int band_px = 8;

// A crossing on its line of sight, in mm along the view axis from the first.
struct Face {
    double depth_mm;
    std::uint32_t triangle;
    bool front;
};

// Faces nearer than this to each other, the front of what lies behind one's back, touch: without it
// the rounding of two surfaces in one place would open gaps.
bool before(const Face& a, const Face& b, double least_mm) {
    const auto key = [&](const Face& f) { return f.depth_mm + (f.front ? -0.5 : 0.5) * least_mm; };
    const double ka = key(a);
    const double kb = key(b);
    if (ka != kb) return ka < kb;
    return a.triangle < b.triangle;
}

// What one line of sight says.
struct Sight {
    double empty_mm = 0.0;
    double empty_mm3 = 0.0;
    double behind_mm = 0.0;
    int hidden = 0;  // surfaces
};

class SightReader {
public:
    SightReader(const SampleMesh& mesh, std::span<const TriangleRef> triangles,
                const ResolveSetting& setting, int samples)
        : mesh_(mesh),
          triangles_(triangles),
          least_mm_(*setting.undercut_least_mm),
          sample_mm2_(setting.mm_per_px * setting.mm_per_px / (samples * samples)) {}

    // @param crossings  of one sample, at least one, in any order
    Sight read(std::span<const Crossing> crossings) {
        take(crossings);
        match();
        Sight sight;
        std::size_t end = closes_[0];  // where the solid that was reached last ends
        for (std::size_t i = 1; i < faces_.size(); ++i) {
            if (i <= end && closes_[i] != i) end = std::max(end, closes_[i]);
            if (i <= end) continue;
            const double from_mm = faces_[end].depth_mm;
            const double to_mm = faces_[i].depth_mm;
            end = closes_[i];
            if (to_mm - from_mm < least_mm_) continue;
            ++sight.hidden;
            sight.empty_mm += to_mm - from_mm;
            sight.empty_mm3 += volume_mm3(from_mm, to_mm);
            sight.behind_mm = to_mm - faces_[0].depth_mm;
        }
        return sight;
    }

    bool shows_back() const { return !faces_[0].front; }

private:
    double lift_mm(const Crossing& crossing) const {
        const double n = crossing.nearness;
        return mesh_.perspective() ? mesh_.eye_lift_mm() * n / (1.0 + n) : n;
    }

    void take(std::span<const Crossing> crossings) {
        faces_.clear();
        for (const Crossing& crossing : crossings) {
            faces_.push_back({-lift_mm(crossing), crossing.triangle, crossing.front});
        }
        std::sort(faces_.begin(), faces_.end(),
                  [&](const Face& a, const Face& b) { return before(a, b, least_mm_); });
    }

    // closes_: the face that ends the solid that one begins; a sheet ends itself, and so does what
    // only ends another's. Where some are left over, those of one part find each other first, so
    // that a sheet of another part, as hair or cloth is, takes nothing from a body that it lies in.
    void match() {
        closes_.resize(faces_.size());
        for (std::size_t i = 0; i < faces_.size(); ++i) closes_[i] = i;
        matched_.assign(faces_.size(), 0);
        if (pair_up([](const Face&, const Face&) { return true; }) == 0) return;
        for (std::size_t i = 0; i < faces_.size(); ++i) closes_[i] = i;
        matched_.assign(faces_.size(), 0);
        pair_up([&](const Face& a, const Face& b) { return part_of_face(a) == part_of_face(b); });
        pair_up([](const Face&, const Face&) { return true; });
    }

    // Closes each face that is not matched yet by the next that may and faces away, as brackets do.
    // Returns how many are left over.
    template <typename May>
    std::size_t pair_up(const May& may) {
        open_.clear();
        std::size_t left = 0;
        for (std::size_t i = 0; i < faces_.size(); ++i) {
            if (matched_[i] != 0) continue;
            if (faces_[i].front) {
                open_.push_back(i);
                continue;
            }
            const auto opener = std::find_if(open_.rbegin(), open_.rend(), [&](std::size_t open) {
                return may(faces_[open], faces_[i]);
            });
            if (opener == open_.rend()) {
                ++left;
                continue;
            }
            closes_[*opener] = i;
            matched_[*opener] = matched_[i] = 1;
            open_.erase(opener.base() - 1);
        }
        return left + open_.size();
    }

    std::uint32_t part_of_face(const Face& face) const {
        return mesh_.part(triangles_[face.triangle]);
    }

    // Of the line of sight's own pyramid; in a parallel projection a column.
    double volume_mm3(double from_mm, double to_mm) const {
        if (!mesh_.perspective()) return sample_mm2_ * (to_mm - from_mm);
        const double near = (mesh_.eye_lift_mm() + from_mm) / mesh_.camera().eye_mm;
        const double far = (mesh_.eye_lift_mm() + to_mm) / mesh_.camera().eye_mm;
        return sample_mm2_ * (to_mm - from_mm) * (near * near + near * far + far * far) / 3.0;
    }

    const SampleMesh& mesh_;
    std::span<const TriangleRef> triangles_;
    double least_mm_;
    double sample_mm2_;
    std::vector<Face> faces_;
    std::vector<std::size_t> closes_;
    std::vector<std::size_t> open_;
    std::vector<std::uint8_t> matched_;
};

// Crossings in the order of their samples.
class Sorted {
public:
    Sorted(const std::vector<Crossing>& crossings, std::size_t samples) : starts_(samples + 1) {
        for (const Crossing& crossing : crossings) ++starts_[crossing.sample + 1];
        for (std::size_t s = 0; s < samples; ++s) starts_[s + 1] += starts_[s];
        std::vector<std::size_t> next(starts_.begin(), starts_.end() - 1);
        sorted_.resize(crossings.size());
        for (const Crossing& crossing : crossings) sorted_[next[crossing.sample]++] = crossing;
    }
    std::span<const Crossing> of(std::size_t sample) const {
        return {sorted_.data() + starts_[sample], starts_[sample + 1] - starts_[sample]};
    }

private:
    std::vector<std::size_t> starts_;
    std::vector<Crossing> sorted_;
};

// Puts what a pixel's samples say together.
void write_pixel(const Sorted& sorted, std::size_t first_lane, int samples, SightReader& reader,
                 std::size_t to, Undercut<std::vector<float>>& undercut) {
    Sight sum;
    int covered = 0;
    int with_hidden = 0;
    int backs = 0;
    for (int l = 0; l < samples; ++l) {
        const auto crossings = sorted.of(first_lane + static_cast<std::size_t>(l));
        if (crossings.empty()) continue;
        const Sight sight = reader.read(crossings);
        ++covered;
        with_hidden += sight.hidden > 0 ? 1 : 0;
        backs += reader.shows_back() ? 1 : 0;
        sum.empty_mm += sight.empty_mm;
        sum.empty_mm3 += sight.empty_mm3;
        sum.behind_mm = std::max(sum.behind_mm, sight.behind_mm);
        sum.hidden += sight.hidden;
    }
    if (covered == 0) return;
    const auto share = [&](int count) {
        return static_cast<float>(count) / static_cast<float>(samples);
    };
    undercut.empty_mm[to] = static_cast<float>(sum.empty_mm / covered);
    undercut.hidden[to] = share(with_hidden);
    undercut.layers[to] = share(sum.hidden);
    undercut.behind_mm[to] = static_cast<float>(sum.behind_mm);
    undercut.empty_mm3[to] = static_cast<float>(sum.empty_mm3);
    undercut.backs[to] = share(backs);
}

}  // namespace

void measure_undercut(const SampleMesh& mesh, std::span<const TriangleRef> triangles,
                      const ResolveSetting& setting, TilePlace place, const Lanes& lanes,
                      SurfaceRows& rows) {
    const int samples = lanes.samples * lanes.samples;
    const int width = std::min(tile_px, rows.width - place.x_px);
    const int height = std::min(tile_px, rows.first_row + rows.rows - place.y_px);
    SightReader reader(mesh, triangles, setting, lanes.samples);
    std::vector<Crossing> crossings;
    for (int first = 0; first < height; first += band_px) {
        const int end = std::min(first + band_px, height);
        crossings.clear();
        collect_crossings(mesh, triangles, place, {first + tile_guard_px, end + tile_guard_px},
                          lanes, crossings);
        const Sorted sorted(crossings,
                            static_cast<std::size_t>((end - first) * tile_px * lanes.count));
        for (int j = first; j < end; ++j) {
            for (int i = 0; i < width; ++i) {
                const auto lane =
                    static_cast<std::size_t>(((j - first) * tile_px + i) * lanes.count);
                write_pixel(sorted, lane, samples, reader,
                            rows.index(place.x_px + i, place.y_px + j), rows.undercut);
            }
        }
    }
}

}  // namespace rakelight
