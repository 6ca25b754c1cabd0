#include "fits.hpp"

#include <cmath>

namespace bench {
namespace {

/// Weighted least squares of y = fixed + per_unit x, by its two normal equations.
class Regression {
public:
    void add(double x, double y, double weight) {
        n_ += weight;
        x_ += weight * x;
        y_ += weight * y;
        xx_ += weight * x * x;
        xy_ += weight * x * y;
    }
    Line line() const {
        const double slope = (n_ * xy_ - x_ * y_) / (n_ * xx_ - x_ * x_);
        return {(y_ - slope * x_) / n_, slope};
    }

private:
    double n_ = 0.0, x_ = 0.0, y_ = 0.0, xx_ = 0.0, xy_ = 0.0;
};

}  // namespace

double growth_exponent(const std::vector<Point>& points) {
    Regression sums;
    for (const auto& p : points) sums.add(std::log(p.size), std::log(p.cost), 1.0);
    return sums.line().per_unit;
}

Line growth_line(const std::vector<Point>& points) {
    Regression sums;
    for (const auto& p : points) sums.add(p.size, p.cost, 1.0 / (p.cost * p.cost));
    return sums.line();
}

}  // namespace bench
