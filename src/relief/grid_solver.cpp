#include "relief/grid_solver.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <cstddef>
#include <cstdint>
#include <utility>
#include <vector>

#include "image/row_bands.hpp"

namespace rakelight {
namespace {

constexpr int band_rows = 32;
constexpr int coarsest_pixels = 64;
constexpr int coarsest_sweeps = 16;
constexpr int plain_below_pixels = 1 << 15;  ///< fewer are not worth a thread

/// Values of a grid with one row and column of zeros around it, so that each pixel has four
/// neighbours.
struct Grid {
    int width, height;
    std::ptrdiff_t stride;
    std::vector<float> values;

    Grid(int w, int h)
        : width(w),
          height(h),
          stride(w + 2),
          values(static_cast<std::size_t>(w + 2) * static_cast<std::size_t>(h + 2)) {}
    float* row(int y) { return values.data() + (y + 1) * stride + 1; }
    const float* row(int y) const { return values.data() + (y + 1) * stride + 1; }
};

template <typename Work>
void for_bands(const Grid& grid, const Work& work) {
    if (std::int64_t{grid.width} * grid.height < plain_below_pixels) {
        work(0, grid.height);
    } else {
        for_row_bands(grid.height, band_rows, work);
    }
}

/// A sum over all rows that is the same for any number of threads.
template <typename RowSum>
double summed(const Grid& grid, const RowSum& row_sum) {
    std::vector<double> rows(static_cast<std::size_t>(grid.height));
    for_bands(grid, [&](int first, int end) {
        for (int y = first; y < end; ++y) rows[static_cast<std::size_t>(y)] = row_sum(y);
    });
    double sum = 0.0;
    for (const double row : rows) sum += row;
    return sum;
}

double dot(const Grid& a, const Grid& b) {
    return summed(a, [&](int y) {
        double sum = 0.0;
        const float *p = a.row(y), *q = b.row(y);
        for (int x = 0; x < a.width; ++x) sum += static_cast<double>(p[x]) * q[x];
        return sum;
    });
}

/// The system on one of the grids: (A u)_i = sum w_ij (u_i - u_j) + c_i u_i.
struct Level {
    Grid across, down, hold;
    Grid inverse;  ///< of the diagonal; 0 where it is 0
    Grid u, b, left;

    Level(int w, int h)
        : across(w, h), down(w, h), hold(w, h), inverse(w, h), u(w, h), b(w, h), left(w, h) {}

    /// (A v) of a pixel. By differences, so that nothing is lost where neighbours are nearly equal
    /// and c is small beside w.
    float image_of(const Grid& of, int y, int x) const {
        const float *v = of.row(y) + x, *a = across.row(y) + x, *d = down.row(y) + x;
        const std::ptrdiff_t s = of.stride;
        return a[-1] * (*v - v[-1]) + a[0] * (*v - v[1]) + d[-s] * (*v - v[-s]) +
               d[0] * (*v - v[s]) + hold.row(y)[x] * *v;
    }
    float diagonal(int y, int x) const {
        const float *a = across.row(y), *d = down.row(y);
        return a[x - 1] + a[x] + d[x - down.stride] + d[x] + hold.row(y)[x];
    }
    void invert_diagonal() {
        for_bands(inverse, [&](int first, int end) {
            for (int y = first; y < end; ++y) {
                for (int x = 0; x < inverse.width; ++x) {
                    const float value = diagonal(y, x);
                    inverse.row(y)[x] = value > 0.0F ? 1.0F / value : 0.0F;
                }
            }
        });
    }
};

/// One colour of a chessboard; its pixels have no neighbours of their own colour.
void relax(Level& level, int colour) {
    for_bands(level.u, [&](int first, int end) {
        for (int y = first; y < end; ++y) {
            float* u = level.u.row(y);
            const float *b = level.b.row(y), *inverse = level.inverse.row(y);
            for (int x = (y + colour) & 1; x < level.u.width; x += 2)
                u[x] += (b[x] - level.image_of(level.u, y, x)) * inverse[x];
        }
    });
}

void find_left(Level& level) {
    for_bands(level.u, [&](int first, int end) {
        for (int y = first; y < end; ++y) {
            const float* b = level.b.row(y);
            float* left = level.left.row(y);
            for (int x = 0; x < level.u.width; ++x) left[x] = b[x] - level.image_of(level.u, y, x);
        }
    });
}

/// Four pixels become one. Joining alone would make the coarse grid twice as stiff as a grid of
/// that pitch: two pairs of neighbours lie side by side, and each spans one pitch of the two.
Level coarser(const Level& fine) {
    Level coarse((fine.u.width + 1) / 2, (fine.u.height + 1) / 2);
    for_bands(coarse.u, [&](int first, int end) {
        for (int y = first; y < end; ++y) {
            for (int x = 0; x < coarse.u.width; ++x) {
                for (int k = 0; k < 2; ++k) {
                    const int yk = 2 * y + k, xk = 2 * x + k;
                    if (yk < fine.u.height) {
                        coarse.across.row(y)[x] += 0.5F * fine.across.row(yk)[2 * x + 1];
                        coarse.hold.row(y)[x] += fine.hold.row(yk)[2 * x];
                        if (2 * x + 1 < fine.u.width)
                            coarse.hold.row(y)[x] += fine.hold.row(yk)[2 * x + 1];
                    }
                    if (xk < fine.u.width && 2 * y + 1 < fine.u.height)
                        coarse.down.row(y)[x] += 0.5F * fine.down.row(2 * y + 1)[xk];
                }
            }
        }
    });
    coarse.invert_diagonal();
    return coarse;
}

void restrict_left(const Level& fine, Level& coarse) {
    for_bands(coarse.b, [&](int first, int end) {
        for (int y = first; y < end; ++y) {
            const float *upper = fine.left.row(2 * y), *lower = fine.left.row(2 * y + 1);
            for (int x = 0; x < coarse.b.width; ++x)
                coarse.b.row(y)[x] =
                    upper[2 * x] + upper[2 * x + 1] + lower[2 * x] + lower[2 * x + 1];
        }
    });
}

void add_coarse(const Level& coarse, Level& fine) {
    for_bands(fine.u, [&](int first, int end) {
        for (int y = first; y < end; ++y) {
            const float *from = coarse.u.row(y / 2), *inverse = fine.inverse.row(y);
            float* to = fine.u.row(y);
            for (int x = 0; x < fine.u.width; ++x)
                if (inverse[x] > 0.0F) to[x] += from[x / 2];
        }
    });
}

/// Improves u of a level for its b. The same backwards as forwards, as conjugate gradients need.
void cycle(std::vector<Level>& levels, std::size_t at) {
    Level& level = levels[at];
    if (at + 1 == levels.size()) {
        for (int i = 0; i < coarsest_sweeps; ++i) {
            for (const int colour : {0, 1, 1, 0}) relax(level, colour);
        }
        return;
    }
    relax(level, 0);
    relax(level, 1);
    find_left(level);
    Level& coarse = levels[at + 1];
    restrict_left(level, coarse);
    std::fill(coarse.u.values.begin(), coarse.u.values.end(), 0.0F);
    // Twice: pixels that are joined, and not interpolated, lose a little with each grid.
    for (int i = 0; i < 2; ++i) cycle(levels, at + 1);
    add_coarse(coarse, level);
    relax(level, 1);
    relax(level, 0);
}

std::vector<Level> all_levels(const WantedHeights& wanted) {
    const int width = wanted.hold.width, height = wanted.hold.height;
    std::vector<Level> levels;
    levels.emplace_back(width, height);
    Level& finest = levels.front();
    for (int y = 0; y < height; ++y) {
        const std::size_t row = static_cast<std::size_t>(y) * static_cast<std::size_t>(width);
        const auto copy = [&](const Plane& from, Grid& to) {
            std::copy_n(from.values.data() + row, width, to.row(y));
        };
        copy(wanted.across_weight, finest.across);
        copy(wanted.down_weight, finest.down);
        copy(wanted.hold, finest.hold);
        assert(finest.across.row(y)[width - 1] == 0.0F);
    }
    finest.invert_diagonal();
    while (std::int64_t{levels.back().u.width} * levels.back().u.height > coarsest_pixels)
        levels.push_back(coarser(levels.back()));
    return levels;
}

/// What the system's right side is: the wanted differences, gathered at their pixels.
Grid right_side(const WantedHeights& wanted) {
    Grid side(wanted.hold.width, wanted.hold.height);
    for_bands(side, [&](int first, int end) {
        for (int y = first; y < end; ++y) {
            for (int x = 0; x < side.width; ++x) {
                float sum = wanted.hold.at(x, y) * wanted.held_to.at(x, y);
                sum -= wanted.across_weight.at(x, y) * wanted.across.at(x, y);
                sum -= wanted.down_weight.at(x, y) * wanted.down.at(x, y);
                if (x > 0) sum += wanted.across_weight.at(x - 1, y) * wanted.across.at(x - 1, y);
                if (y > 0) sum += wanted.down_weight.at(x, y - 1) * wanted.down.at(x, y - 1);
                side.row(y)[x] = sum;
            }
        }
    });
    return side;
}

/// to = to * keep + from * share
void blend(Grid& to, double keep, const Grid& from, double share) {
    const auto k = static_cast<float>(keep), s = static_cast<float>(share);
    for_bands(to, [&](int first, int end) {
        for (int y = first; y < end; ++y) {
            float* t = to.row(y);
            const float* f = from.row(y);
            for (int x = 0; x < to.width; ++x) t[x] = t[x] * k + f[x] * s;
        }
    });
}

void apply(const Level& level, const Grid& to, Grid& result) {
    for_bands(to, [&](int first, int end) {
        for (int y = first; y < end; ++y) {
            for (int x = 0; x < to.width; ++x) result.row(y)[x] = level.image_of(to, y, x);
        }
    });
}

/// levels.front().u becomes a rough solution for b = left.
void precondition(std::vector<Level>& levels, const Grid& left) {
    Level& finest = levels.front();
    finest.b.values = left.values;
    std::fill(finest.u.values.begin(), finest.u.values.end(), 0.0F);
    cycle(levels, 0);
}

}  // namespace

SolveReport solve_heights(const WantedHeights& wanted, Plane& heights, double residual,
                          int rounds) {
    const int width = wanted.hold.width, height = wanted.hold.height;
    assert(heights.width == width && heights.height == height);
    std::vector<Level> levels = all_levels(wanted);
    const Level& finest = levels.front();
    Grid solution(width, height), direction(width, height), image(width, height);
    for (int y = 0; y < height; ++y) {
        for (int x = 0; x < width; ++x)
            if (finest.inverse.row(y)[x] > 0.0F) solution.row(y)[x] = heights.at(x, y);
    }
    Grid left = right_side(wanted);
    const double whole = std::sqrt(dot(left, left));
    if (whole == 0.0) {
        std::fill(heights.values.begin(), heights.values.end(), 0.0F);
        return {};
    }
    apply(finest, solution, image);
    blend(left, 1.0, image, -1.0);
    SolveReport report;
    report.residual = std::sqrt(dot(left, left)) / whole;
    double before = 0.0;
    while (report.residual > residual && report.rounds < rounds) {
        precondition(levels, left);
        const double now = dot(left, finest.u);
        blend(direction, report.rounds == 0 ? 0.0 : now / before, finest.u, 1.0);
        before = now;
        apply(finest, direction, image);
        const double step = now / dot(direction, image);
        blend(solution, 1.0, direction, step);
        blend(left, 1.0, image, -step);
        report.residual = std::sqrt(dot(left, left)) / whole;
        ++report.rounds;
    }
    for (int y = 0; y < height; ++y) std::copy_n(solution.row(y), width, &heights.at(0, y));
    return report;
}

}  // namespace rakelight
