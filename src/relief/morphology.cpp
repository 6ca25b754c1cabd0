#include "relief/morphology.hpp"

#include <algorithm>
#include <cmath>
#include <cstddef>
#include <limits>
#include <vector>

#include "image/row_bands.hpp"
#include "interrupt.hpp"

namespace rakelight {
namespace {

constexpr float infinity = std::numeric_limits<float>::infinity();

struct Lowest {
    static constexpr float none = infinity;
    static constexpr float side = 1.0F;  ///< of a tool that touches from above
    static float of(float a, float b) { return b < a ? b : a; }
};

struct Highest {
    static constexpr float none = -infinity;
    static constexpr float side = -1.0F;
    static float of(float a, float b) { return a < b ? b : a; }
};

const float* row_of(const Plane& plane, int x, int y) {
    return plane.values.data() + static_cast<std::size_t>(y) * plane.width + x;
}

float* row_of(Plane& plane, int x, int y) {
    return plane.values.data() + static_cast<std::size_t>(y) * plane.width + x;
}

/// `pad` pixels of one value on each side.
Plane padded(const Plane& plane, int pad, float value) {
    Plane wide(plane.width + 2 * pad, plane.height + 2 * pad, value);
    for (int y = 0; y < plane.height; ++y)
        std::copy_n(row_of(plane, 0, y), plane.width, row_of(wide, pad, y + pad));
    return wide;
}

// ---- A flat disc ----

/// The pixels of one row of a disc, in the square around it.
struct Chord {
    int first = 0;
    int length = 0;
    int power = 0;  ///< the largest with 2^power <= length
};

/// Symmetric about its middle, across, upright and along both diagonals.
class Disc {
public:
    Disc(int size_px, double radius_px) {
        for (int row = 0; row < size_px; ++row) {
            const double y = row - 0.5 * (size_px - 1);
            const double half = std::sqrt(std::max(0.0, radius_px * radius_px - y * y));
            const int length = size_px % 2 == 1 ? 2 * static_cast<int>(half) + 1
                                                : 2 * static_cast<int>(half + 0.5);
            int power = 0;
            while (2 << power <= length) ++power;
            chords_.push_back({(size_px - length) / 2, length, power});
            most_power_ = std::max(most_power_, power);
        }
    }

    int size() const { return static_cast<int>(chords_.size()); }
    int most_power() const { return most_power_; }
    const Chord& chord(int row) const { return chords_[static_cast<std::size_t>(row)]; }

private:
    std::vector<Chord> chords_;
    int most_power_ = 0;
};

Disc flat_disc(double disc_px) {
    return {std::max(1, static_cast<int>(std::lround(disc_px))), 0.5 * disc_px};
}

/// Of one row: the extreme of the 2^power pixels from each one on.
template <typename Extreme>
class Runs {
public:
    Runs(int width, int most_power)
        : runs_(static_cast<std::size_t>(most_power) + 1,
                std::vector<float>(static_cast<std::size_t>(width))) {}

    void build(const float* row) {
        const std::size_t width = runs_.front().size();
        std::copy_n(row, width, runs_.front().begin());
        for (std::size_t power = 1; power < runs_.size(); ++power) {
            const std::size_t half = std::size_t{1} << (power - 1);
            const float* from = runs_[power - 1].data();
            float* to = runs_[power].data();
            for (std::size_t x = 0; x + 2 * half <= width; ++x)
                to[x] = Extreme::of(from[x], from[x + half]);
        }
    }

    void add(const Chord& chord, float* to, int width) const {
        const float* from = runs_[static_cast<std::size_t>(chord.power)].data() + chord.first;
        const float* rest = from + chord.length - (1 << chord.power);
        for (int x = 0; x < width; ++x) to[x] = Extreme::of(to[x], Extreme::of(from[x], rest[x]));
    }

private:
    std::vector<std::vector<float>> runs_;
};

/// The extreme over each disc that lies wholly in the plane, at the top left of the square around
/// it: smaller by the disc's size less one.
template <typename Extreme>
Plane over_disc(const Plane& plane, const Disc& disc) {
    const int reach = disc.size() - 1;
    Plane result(plane.width - reach, plane.height - reach, Extreme::none);
    for_row_bands(result.height, 32, [&](int first, int end) {
        stop_if_interrupted();
        Runs<Extreme> runs(plane.width, disc.most_power());
        for (int y = first; y < end + reach; ++y) {
            runs.build(row_of(plane, 0, y));
            for (int to = std::max(first, y - reach); to <= std::min(end - 1, y); ++to)
                runs.add(disc.chord(y - to), row_of(result, 0, to), result.width);
        }
    });
    return result;
}

/// Discs lie on either side of the border too: one that only touches the picture limits nothing.
template <typename First, typename Second>
Plane swept(const Plane& heights, double disc_px, HeightBeyond beyond) {
    const Disc disc = flat_disc(disc_px);
    if (disc.size() == 1 || heights.values.empty()) return heights;
    return over_disc<Second>(
        over_disc<First>(padded(heights, disc.size() - 1, beyond.value_or(First::none)), disc),
        disc);
}

// ---- A ball ----

/// How much higher than its lowest point a ball's under side lies.
class Ball {
public:
    Ball(double ball_mm, double px_per_mm)
        : radius_mm_(0.5 * ball_mm),
          px_per_mm_(px_per_mm),
          reach_(static_cast<int>(radius_mm_ * px_per_mm)) {
        for (int y = 0; y <= reach_; ++y)
            for (int x = 0; x <= reach_; ++x) rises_.push_back(rise_mm(x, y));
    }

    int reach() const { return reach_; }
    double radius_px() const { return radius_mm_ * px_per_mm_; }
    /// One row of a quarter, from the middle out.
    const float* rises_mm(int row) const {
        return &rises_[static_cast<std::size_t>(row) * (static_cast<std::size_t>(reach_) + 1)];
    }
    /// Square of how far out the under side is no higher than that.
    double square_reach_px(float mm) const {
        const double most_mm = std::min(radius_mm_, (1.0 + 1e-5) * mm);  // more than rounding
        return most_mm * (2.0 * radius_mm_ - most_mm) * px_per_mm_ * px_per_mm_;
    }

private:
    float rise_mm(int x, int y) const {
        const double square = radius_mm_ * radius_mm_ - (x * x + y * y) / (px_per_mm_ * px_per_mm_);
        return static_cast<float>(radius_mm_ - std::sqrt(std::max(0.0, square)));
    }

    double radius_mm_, px_per_mm_;
    int reach_;
    std::vector<float> rises_;
};

constexpr int stretch_px = 64;  ///< pixels of a row that share how far out is looked

/// One stretch of a row.
template <typename Extreme>
void sweep_stretch(const Plane& plane, const Ball& ball, double square_reach, int x0, int y,
                   int width, float* to) {
    const int reach = ball.reach();
    for (int dy = -reach; dy <= reach; ++dy) {
        const double left = square_reach - static_cast<double>(dy) * dy;
        if (left < 0.0) continue;
        const float* rises = ball.rises_mm(std::abs(dy));
        const int half = std::min(reach, static_cast<int>(std::sqrt(left)));
        for (int dx = -half; dx <= half; ++dx) {
            const float* from = row_of(plane, x0 + reach + dx, y + reach + dy);
            const float rise = Extreme::side * rises[std::abs(dx)];
            for (int x = 0; x < width; ++x) to[x] = Extreme::of(to[x], from[x] + rise);
        }
    }
}

/// The extreme of height and ball over each ball that lies wholly in the plane.
template <typename Extreme>
Plane over_ball(const Plane& plane, const Ball& ball) {
    const int reach = ball.reach();
    // What lies nearer to the extreme than the ball rises cannot be told by what is farther out.
    const Plane level = over_disc<Extreme>(plane, Disc(2 * reach + 1, ball.radius_px()));
    Plane result(level.width, level.height, Extreme::none);
    for_row_bands(result.height, 4, [&](int first, int end) {
        stop_if_interrupted();
        for (int y = first; y < end; ++y) {
            const float* middle = row_of(plane, reach, y + reach);
            for (int x = 0; x < result.width; x += stretch_px) {
                const int width = std::min(stretch_px, result.width - x);
                float most_mm = 0.0F;
                for (int i = x; i < x + width; ++i)
                    most_mm = std::max(most_mm, std::abs(level.at(i, y) - middle[i]));
                const double square =
                    std::min(ball.square_reach_px(most_mm), ball.radius_px() * ball.radius_px());
                sweep_stretch<Extreme>(plane, ball, square, x, y, width, row_of(result, x, y));
            }
        }
    });
    return result;
}

}  // namespace

Plane opened(const Plane& heights, double disc_px, HeightBeyond beyond) {
    return swept<Lowest, Highest>(heights, disc_px, beyond);
}

Plane closed(const Plane& heights, double disc_px, HeightBeyond beyond) {
    return swept<Highest, Lowest>(heights, disc_px, beyond);
}

Plane closed_by_ball(const Plane& heights_mm, double ball_mm, double px_per_mm,
                     HeightBeyond beyond) {
    const Ball ball(ball_mm, px_per_mm);
    if (ball.reach() == 0 || heights_mm.values.empty()) return heights_mm;
    Plane made = over_ball<Lowest>(
        over_ball<Highest>(padded(heights_mm, 2 * ball.reach(), beyond.value_or(Highest::none)),
                           ball),
        ball);
    // What was taken off and added again may have lost its last bit.
    for (std::size_t i = 0; i < made.values.size(); ++i)
        made.values[i] = std::max(made.values[i], heights_mm.values[i]);
    return made;
}

}  // namespace rakelight
