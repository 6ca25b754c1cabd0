#include "batch/ranged_pass.hpp"

#include <cstdio>

namespace rakelight {

std::string outward(double value, double (*round)(double)) {
    const double step = std::pow(10.0, std::floor(std::log10(std::max(std::abs(value), 1e-9))) - 3);
    char text[32];
    std::snprintf(text, sizeof text, "%.6g", round(value / step) * step);
    return text;
}

Picture named_picture(const std::string& name) {
    Picture picture;
    picture.name = name;
    picture.file = name + ".png";
    return picture;
}

}  // namespace rakelight
