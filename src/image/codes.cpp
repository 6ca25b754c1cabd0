#include "image/codes.hpp"

namespace rakelight {

double decode_share(std::uint16_t code) {
    return code / 65535.0;
}

double DepthEncoding::decode(std::uint16_t code) const {
    const double used = 1.0 - near_margin - far_margin;
    // Counted from far_mm; where there is no depth this is near_mm whatever the code.
    return far_mm - (code / 65535.0 - far_margin) * (far_mm - near_mm) / used;
}

double DepthEncoding::mm_per_code() const {
    return (far_mm - near_mm) / (65535.0 * (1.0 - near_margin - far_margin));
}

double DepthEncoding::worst_error_mm() const {
    return mm_per_code() / 2.0;
}

double SignedEncoding::decode(std::uint16_t code) const {
    return (code - 32768) * h_max / 32767.0;
}

double SignedEncoding::worst_error() const {
    return h_max / 65534.0;
}

double decode_normal_component(std::uint16_t code) {
    return 2.0 * code / 65535.0 - 1.0;
}

}  // namespace rakelight
