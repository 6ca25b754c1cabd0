#include "image/palette.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>

#include "image/row_bands.hpp"

namespace rakelight {
namespace {

constexpr std::size_t most_colours = 256;
constexpr int rounds = 6;

// Roots of the shares in luma (ITU-R BT.601): a distance of codes as the eye weighs it.
constexpr std::array<float, 3> eye{0.547F, 0.766F, 0.338F};

using Point = std::array<float, 3>;

struct Seen {
    Point at;
    float weight;
};

Point place_of(std::uint32_t packed) {
    return {eye[0] * static_cast<float>(packed >> 16),
            eye[1] * static_cast<float>(packed >> 8 & 255U),
            eye[2] * static_cast<float>(packed & 255U)};
}

std::uint32_t packed_at(const Image8& picture, std::size_t pixel) {
    const std::uint8_t* code = picture.codes.data() + 3 * pixel;
    return static_cast<std::uint32_t>(code[0]) << 16 | static_cast<std::uint32_t>(code[1]) << 8 |
           code[2];
}

float squared(const Point& a, const Point& b) {
    const float x = a[0] - b[0], y = a[1] - b[1], z = a[2] - b[2];
    return x * x + y * y + z * z;
}

struct Counted {
    std::uint32_t packed;
    std::uint32_t pixels;
};

std::vector<Counted> counted(const Image8& picture) {
    std::vector<std::uint32_t> all(picture.codes.size() / 3);
    for (std::size_t i = 0; i < all.size(); ++i) all[i] = packed_at(picture, i);
    std::sort(all.begin(), all.end());
    std::vector<Counted> list;
    for (const std::uint32_t packed : all) {
        if (list.empty() || list.back().packed != packed) list.push_back({packed, 0});
        ++list.back().pixels;
    }
    return list;
}

/// Both lists in one; each is in the order of its colours.
std::vector<Counted> merged(const std::vector<Counted>& a, const std::vector<Counted>& b) {
    std::vector<Counted> both;
    both.reserve(a.size() + b.size());
    std::merge(a.begin(), a.end(), b.begin(), b.end(), std::back_inserter(both),
               [](const Counted& one, const Counted& other) { return one.packed < other.packed; });
    std::size_t kept = 0;
    for (const Counted& one : both) {
        if (kept > 0 && both[kept - 1].packed == one.packed)
            both[kept - 1].pixels += one.pixels;
        else
            both[kept++] = one;
    }
    both.resize(kept);
    return both;
}

/// A stretch of the list of colours.
struct Box {
    std::size_t first, end;
    Point mean{};
    Point longest{};      ///< a unit vector
    double spread = 0.0;  ///< weighted sum of squared distances from the mean
};

/// The direction of the largest spread: the power iteration, from the longest side.
Point longest_of(const std::array<std::array<double, 3>, 3>& spread) {
    std::array<double, 3> v{spread[0][0], spread[1][1], spread[2][2]};
    for (int i = 0; i < 32; ++i) {
        std::array<double, 3> next{};
        double length = 0.0;
        for (std::size_t r = 0; r < 3; ++r) {
            for (std::size_t c = 0; c < 3; ++c) next[r] += spread[r][c] * v[c];
            length += next[r] * next[r];
        }
        length = std::sqrt(length);
        if (!(length > 0.0)) break;
        for (std::size_t r = 0; r < 3; ++r) v[r] = next[r] / length;
    }
    return {static_cast<float>(v[0]), static_cast<float>(v[1]), static_cast<float>(v[2])};
}

Box measured(const std::vector<Seen>& seen, std::size_t first, std::size_t end) {
    Box box{first, end};
    std::array<double, 3> sum{};
    double weight = 0.0;
    for (std::size_t i = first; i < end; ++i) {
        weight += seen[i].weight;
        for (std::size_t c = 0; c < 3; ++c)
            sum[c] += static_cast<double>(seen[i].weight) * seen[i].at[c];
    }
    for (std::size_t c = 0; c < 3; ++c) box.mean[c] = static_cast<float>(sum[c] / weight);
    std::array<std::array<double, 3>, 3> spread{};
    for (std::size_t i = first; i < end; ++i) {
        for (std::size_t r = 0; r < 3; ++r)
            for (std::size_t c = 0; c < 3; ++c)
                spread[r][c] += static_cast<double>(seen[i].weight) *
                                (seen[i].at[r] - box.mean[r]) * (seen[i].at[c] - box.mean[c]);
    }
    box.spread = spread[0][0] + spread[1][1] + spread[2][2];
    box.longest = longest_of(spread);
    return box;
}

float along(const Point& p, const Box& box) {
    float sum = 0.0F;
    for (std::size_t c = 0; c < 3; ++c) sum += (p[c] - box.mean[c]) * box.longest[c];
    return sum;
}

/// Cuts boxes until there are enough, or nothing is left to cut.
std::vector<Point> cut_boxes(std::vector<Seen>& seen) {
    std::vector<Box> boxes{measured(seen, 0, seen.size())};
    while (boxes.size() < most_colours) {
        const auto widest =
            std::max_element(boxes.begin(), boxes.end(),
                             [](const Box& a, const Box& b) { return a.spread < b.spread; });
        if (widest->spread <= 0.0) break;
        const Box box = *widest;
        const auto begin = seen.begin() + static_cast<std::ptrdiff_t>(box.first);
        const auto middle =
            std::stable_partition(begin, seen.begin() + static_cast<std::ptrdiff_t>(box.end),
                                  [&](const Seen& one) { return along(one.at, box) < 0.0F; });
        const auto cut = static_cast<std::size_t>(middle - seen.begin());
        if (cut == box.first || cut == box.end) {  // no longer more than rounding
            widest->spread = 0.0;
            continue;
        }
        *widest = measured(seen, box.first, cut);
        boxes.push_back(measured(seen, cut, box.end));
    }
    std::vector<Point> means;
    for (const Box& box : boxes) means.push_back(box.mean);
    return means;
}

/// Places of points, found by their distance along the grey axis.
class Nearest {
public:
    explicit Nearest(const std::vector<Point>& points) {
        for (std::size_t i = 0; i < points.size(); ++i)
            sorted_.push_back({grey(points[i]), points[i], static_cast<std::uint8_t>(i)});
        std::sort(sorted_.begin(), sorted_.end(), [](const Entry& a, const Entry& b) {
            return a.grey != b.grey ? a.grey < b.grey : a.index < b.index;
        });
    }
    std::uint8_t to(const Point& p) const {
        const float at = grey(p);
        const auto from = std::lower_bound(sorted_.begin(), sorted_.end(), at,
                                           [](const Entry& e, float v) { return e.grey < v; });
        float best = std::numeric_limits<float>::max();
        std::uint8_t index = 0;
        const auto look = [&](const Entry& entry) {
            const float gap = entry.grey - at;
            if (gap * gap > best) return false;
            const float distance = squared(entry.at, p);
            if (distance < best || (distance == best && entry.index < index)) {
                best = distance;
                index = entry.index;
            }
            return true;
        };
        for (auto up = from; up != sorted_.end() && look(*up); ++up) {
        }
        for (auto down = from; down != sorted_.begin() && look(*std::prev(down)); --down) {
        }
        return index;
    }

private:
    struct Entry {
        float grey;
        Point at;
        std::uint8_t index;
    };
    static float grey(const Point& p) { return 0.57735027F * (p[0] + p[1] + p[2]); }
    std::vector<Entry> sorted_;
};

/// Each point to the mean of those that are nearest to it.
void settle(std::vector<Point>& points, const std::vector<Seen>& seen) {
    const Nearest nearest(points);
    std::vector<std::array<double, 4>> sums(points.size());
    for (const Seen& one : seen) {
        auto& sum = sums[nearest.to(one.at)];
        for (std::size_t c = 0; c < 3; ++c) sum[c] += static_cast<double>(one.weight) * one.at[c];
        sum[3] += one.weight;
    }
    for (std::size_t i = 0; i < points.size(); ++i) {
        if (sums[i][3] <= 0.0) continue;
        for (std::size_t c = 0; c < 3; ++c)
            points[i][c] = static_cast<float>(sums[i][c] / sums[i][3]);
    }
}

Colour colour_at(const Point& p) {
    Colour colour{};
    for (std::size_t c = 0; c < 3; ++c)
        colour[c] = static_cast<std::uint8_t>(std::clamp(p[c] / eye[c] + 0.5F, 0.0F, 255.0F));
    return colour;
}

}  // namespace

Palette::Palette(std::span<const Image8> pictures) {
    std::vector<Counted> all;
    for (const Image8& picture : pictures) {
        assert(picture.channels == 3);
        all = merged(all, counted(picture));
    }
    if (all.empty()) return;
    std::vector<Seen> seen;
    for (const Counted& one : all) {
        known_.push_back(one.packed);
        seen.push_back({place_of(one.packed), std::sqrt(static_cast<float>(one.pixels))});
    }
    std::vector<Point> points = cut_boxes(seen);
    for (int i = 0; i < rounds; ++i) settle(points, seen);
    for (const Point& point : points) colours_.push_back(colour_at(point));
    std::vector<Point> rounded;
    for (const Colour& colour : colours_)
        rounded.push_back(place_of(static_cast<std::uint32_t>(colour[0]) << 16 |
                                   static_cast<std::uint32_t>(colour[1]) << 8 | colour[2]));
    const Nearest nearest(rounded);
    for (const std::uint32_t packed : known_) nearest_.push_back(nearest.to(place_of(packed)));
}

std::vector<std::uint8_t> Palette::indices(const Image8& picture) const {
    std::vector<std::uint8_t> places(picture.codes.size() / 3);
    for_row_bands(picture.height, [&](int first, int end) {
        const auto width = static_cast<std::size_t>(picture.width);
        for (std::size_t i = first * width; i < end * width; ++i) {
            const auto found =
                std::lower_bound(known_.begin(), known_.end(), packed_at(picture, i));
            assert(found != known_.end());
            places[i] = nearest_[static_cast<std::size_t>(found - known_.begin())];
        }
    });
    return places;
}

}  // namespace rakelight
