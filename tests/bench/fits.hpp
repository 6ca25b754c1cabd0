#pragma once
// How something grows: least-squares fits.

#include <vector>

namespace bench {

struct Point {
    double size = 0.0;  ///< > 0
    double cost = 0.0;  ///< > 0
};

/// log(cost) = exponent log(size) + constant. 1 is linear; a fixed share makes it less.
/// @param points  of at least two sizes
double growth_exponent(const std::vector<Point>& points);

/// cost = fixed + per_unit size, with each point's relative error weighted alike: otherwise the
/// largest alone would decide.
struct Line {
    double fixed = 0.0;
    double per_unit = 0.0;
};
/// @param points  of at least two sizes
Line growth_line(const std::vector<Point>& points);

}  // namespace bench
