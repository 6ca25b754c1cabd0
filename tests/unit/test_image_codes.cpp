// The encodings of src/image/codes.hpp, over all 65,536 codes. The formulas and the hand-computed
// values are those of the table of passes in docs/passes.md; the rounding is checked against
// std::lround (C standard: to nearest, halves away from zero).

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <limits>

#include "image/codes.hpp"

using namespace rakelight;

namespace {

constexpr double not_a_number = std::numeric_limits<double>::quiet_NaN();
constexpr double infinity = std::numeric_limits<double>::infinity();

/// What goes wrong over a run of codes; one CHECK a number keeps a failure readable.
struct Sweep {
    int not_itself = 0;         ///< decode, then encode gives another code
    int not_itself_nearby = 0;  ///< the same, moved by just under half a step either way
    double worst = 0.0;         ///< largest error of reading back a moved value
    std::uint64_t clipped = 0;
};

/// @param step  what one code is worth, signed as decode rises
template <class Encode, class Decode>
Sweep sweep(int first, int last, double step, Encode encode, Decode decode) {
    Sweep found;
    for (int c = first; c <= last; ++c) {
        const auto code = static_cast<std::uint16_t>(c);
        const double value = decode(code);
        found.not_itself += encode(value, found.clipped) != code;
        for (const double move : {-0.499999, 0.499999}) {
            // Beyond the outermost codes lie values outside the range.
            if ((c == first && move < 0.0) || (c == last && move > 0.0)) continue;
            const double moved = value + move * step;
            const std::uint16_t again = encode(moved, found.clipped);
            found.not_itself_nearby += again != code;
            found.worst = std::max(found.worst, std::abs(decode(again) - moved));
        }
    }
    return found;
}

void check_sweep(const Sweep& found, double worst_error) {
    CHECK(found.not_itself == 0);
    CHECK(found.not_itself_nearby == 0);
    CHECK(found.clipped == 0);
    CHECK(found.worst <= worst_error);
    CHECK(found.worst > 0.99 * worst_error);  // the stated bound is reached, not just kept
}

}  // namespace

TEST_CASE("codes: rounding is that of std::lround") {
    // 0.49999999999999994 + 0.5 rounds to 1: the classic trap of adding a half.
    for (const double x : {0.0, 0.49999999999999994, 0.5, 1.5, 2.5, 32767.5, 65534.499999999993}) {
        CHECK(round_half_up(x) == static_cast<std::uint32_t>(std::lround(x)));
    }
    int wrong = 0;
    for (int i = 0; i < 65536; ++i) {
        for (const double x : {i + 0.5, std::nextafter(i + 0.5, 0.0), i + 0.25}) {
            wrong += round_half_up(x) != static_cast<std::uint32_t>(std::lround(x));
        }
    }
    CHECK(wrong == 0);
}

TEST_CASE("codes: share, all codes") {
    const auto encode = [](double v, std::uint64_t& clipped) { return encode_share(v, clipped); };
    check_sweep(sweep(0, 65535, 1.0 / 65535.0, encode, decode_share), 1.0 / 131070.0);
}

TEST_CASE("codes: share, by hand") {
    std::uint64_t clipped = 0;
    CHECK(encode_share(0.0, clipped) == 0);
    CHECK(encode_share(1.0, clipped) == 65535);
    CHECK(encode_share(0.5, clipped) == 32768);   // 32767.5, half away from zero
    CHECK(encode_share(0.25, clipped) == 16384);  // 16383.75
    CHECK(encode_share(-0.0, clipped) == 0);
    CHECK(clipped == 0);
    CHECK(decode_share(65535) == 1.0);
    CHECK(decode_share(13107) == 0.2);  // 65535 / 5
}

TEST_CASE("codes: share, what does not fit is counted") {
    std::uint64_t clipped = 0;
    CHECK(encode_share(1.0000001, clipped) == 65535);
    CHECK(encode_share(infinity, clipped) == 65535);
    CHECK(clipped == 2);
    CHECK(encode_share(-1e-9, clipped) == 0);
    CHECK(encode_share(-infinity, clipped) == 0);
    CHECK(encode_share(not_a_number, clipped) == 0);
    CHECK(clipped == 5);
}

TEST_CASE("codes: depth, all codes") {
    struct Case {
        DepthEncoding depth;
        int first, last;
    };
    // A margin keeps the outermost code of its side for what is not the subject.
    for (const Case& it :
         {Case{{0.0, 10.0, 0.01, 0.01}, 1, 65534}, Case{{-3.25, 1.5, 0.0, 0.0}, 0, 65535},
          Case{{812.5, 815.0, 0.1, 0.0}, 0, 65534}, Case{{5.0, 5.001, 0.0, 0.3}, 1, 65535}}) {
        CAPTURE(it.depth.near_mm);
        const double step = (it.depth.far_mm - it.depth.near_mm) /
                            (65535.0 * (1.0 - it.depth.near_margin - it.depth.far_margin));
        CHECK(it.depth.mm_per_code() == doctest::Approx(step).epsilon(1e-12));
        const auto encode = [&](double z, std::uint64_t& n) { return it.depth.encode(z, n); };
        const auto decode = [&](std::uint16_t code) { return it.depth.decode(code); };
        // decode falls as the code rises: near is bright.
        check_sweep(sweep(it.first, it.last, -step, encode, decode), it.depth.worst_error_mm());
    }
}

TEST_CASE("codes: depth, by hand") {
    const DepthEncoding depth{0.0, 10.0, 0.01, 0.01};
    std::uint64_t clipped = 0;
    CHECK(depth.encode(0.0, clipped) == 64880);  // 65535 * 0.99  = 64879.65
    CHECK(depth.encode(10.0, clipped) == 655);   // 65535 * 0.01  = 655.35
    CHECK(depth.encode(2.5, clipped) == 48824);  // 65535 * 0.745 = 48823.575
    CHECK(clipped == 0);
    CHECK(depth.mm_per_code() == doctest::Approx(10.0 / 64224.3).epsilon(1e-14));
    const DepthEncoding whole{2.0, 3.0, 0.0, 0.0};
    CHECK(whole.encode(2.0, clipped) == 65535);
    CHECK(whole.encode(3.0, clipped) == 0);
    CHECK(whole.encode(2.75, clipped) == 16384);  // 16383.75
    CHECK(clipped == 0);
    CHECK(whole.decode(13107) == doctest::Approx(2.8).epsilon(1e-15));
}

TEST_CASE("codes: depth, the outermost codes are not the subject's where there is a margin") {
    const DepthEncoding depth{0.0, 10.0, 0.01, 0.01};
    std::uint64_t clipped = 0;
    // Within the margins nothing is lost, so nothing is counted.
    CHECK(depth.encode(depth.decode(1), clipped) == 1);
    CHECK(depth.encode(depth.decode(65534), clipped) == 65534);
    CHECK(clipped == 0);
    CHECK(depth.encode(depth.decode(0), clipped) == 1);
    CHECK(depth.encode(depth.decode(65535), clipped) == 65534);
    CHECK(clipped == 2);
    CHECK(depth.encode(1e9, clipped) == 1);
    CHECK(depth.encode(infinity, clipped) == 1);
    CHECK(depth.encode(-infinity, clipped) == 65534);
    CHECK(depth.encode(not_a_number, clipped) == 1);
    CHECK(clipped == 6);

    const DepthEncoding whole{2.0, 3.0, 0.0, 0.0};
    clipped = 0;
    CHECK(whole.encode(3.1, clipped) == 0);
    CHECK(whole.encode(1.9, clipped) == 65535);
    CHECK(whole.encode(not_a_number, clipped) == 0);
    CHECK(clipped == 3);
}

TEST_CASE("codes: depth of a flat plate lies at the near end") {
    std::uint64_t clipped = 0;
    const DepthEncoding flat{7.5, 7.5, 0.01, 0.01};
    CHECK(flat.encode(7.5, clipped) == 64880);  // 65535 * 0.99, as near always
    CHECK(clipped == 0);
    CHECK(flat.encode(7.6, clipped) == 64880);
    CHECK(flat.encode(not_a_number, clipped) == 64880);
    CHECK(clipped == 2);
    CHECK(flat.decode(64880) == 7.5);
    CHECK(flat.decode(1) == 7.5);
    CHECK(flat.mm_per_code() == 0.0);
    CHECK(flat.worst_error_mm() == 0.0);
    clipped = 0;
    CHECK(DepthEncoding{7.5, 7.5, 0.0, 0.0}.encode(7.5, clipped) == 65535);
    CHECK(clipped == 0);
}

TEST_CASE("codes: signed, all codes") {
    for (const double h_max : {1.0, 0.037, 250.0}) {
        const SignedEncoding scale{h_max};
        const auto encode = [&](double h, std::uint64_t& n) { return scale.encode(h, n); };
        const auto decode = [&](std::uint16_t code) { return scale.decode(code); };
        CHECK(scale.worst_error() == doctest::Approx(h_max / 65534.0).epsilon(1e-15));
        check_sweep(sweep(1, 65535, h_max / 32767.0, encode, decode), scale.worst_error());
    }
}

TEST_CASE("codes: signed, by hand") {
    const SignedEncoding scale{2.0};
    std::uint64_t clipped = 0;
    CHECK(scale.encode(0.0, clipped) == 32768);
    CHECK(scale.encode(-0.0, clipped) == 32768);
    CHECK(scale.encode(2.0, clipped) == 65535);
    CHECK(scale.encode(-2.0, clipped) == 1);
    CHECK(scale.encode(0.5, clipped) == 40960);   // 8191.75
    CHECK(scale.encode(1.0, clipped) == 49152);   // 16383.5, away from zero
    CHECK(scale.encode(-1.0, clipped) == 16384);  // and symmetric
    CHECK(clipped == 0);
    CHECK(scale.encode(2.001, clipped) == 65535);
    CHECK(scale.encode(-infinity, clipped) == 1);
    CHECK(scale.encode(not_a_number, clipped) == 32768);
    CHECK(clipped == 3);
    CHECK(scale.decode(32768) == 0.0);
    CHECK(scale.decode(65535) == 2.0);
    CHECK(scale.decode(1) == -2.0);
}

TEST_CASE("codes: signed, a picture without curvature") {
    const SignedEncoding flat{0.0};
    std::uint64_t clipped = 0;
    CHECK(flat.encode(0.0, clipped) == 32768);
    CHECK(clipped == 0);
    CHECK(flat.encode(0.1, clipped) == 32768);
    CHECK(flat.encode(-0.1, clipped) == 32768);
    CHECK(flat.encode(not_a_number, clipped) == 32768);
    CHECK(clipped == 3);
    CHECK(flat.decode(40000) == 0.0);
}

TEST_CASE("codes: length, all codes") {
    for (const double most : {1.0, 0.037, 250.0}) {
        const LengthEncoding scale{most};
        const auto encode = [&](double v, std::uint64_t& n) { return scale.encode(v, n); };
        const auto decode = [&](std::uint16_t code) { return scale.decode(code); };
        CHECK(scale.worst_error_mm() == doctest::Approx(most / 131070.0).epsilon(1e-15));
        check_sweep(sweep(0, 65535, most / 65535.0, encode, decode), scale.worst_error_mm());
    }
}

TEST_CASE("codes: length, by hand") {
    const LengthEncoding scale{2.0};
    std::uint64_t clipped = 0;
    CHECK(scale.encode(0.0, clipped) == 0);
    CHECK(scale.encode(2.0, clipped) == 65535);
    CHECK(scale.encode(1.0, clipped) == 32768);  // 32767.5
    CHECK(LengthEncoding{0.0}.encode(0.0, clipped) == 0);
    CHECK(clipped == 0);
    CHECK(scale.encode(2.001, clipped) == 65535);
    CHECK(scale.encode(-0.1, clipped) == 0);
    CHECK(scale.encode(not_a_number, clipped) == 0);
    CHECK(LengthEncoding{0.0}.encode(0.1, clipped) == 0);
    CHECK(LengthEncoding{0.0}.encode(not_a_number, clipped) == 0);
    CHECK(clipped == 5);
}

TEST_CASE("codes: normal component, all codes") {
    const auto encode = [](double v, std::uint64_t&) { return encode_normal_component(v); };
    check_sweep(sweep(0, 65535, 2.0 / 65535.0, encode, decode_normal_component), 1.0 / 65535.0);
}

TEST_CASE("codes: normal component, by hand") {
    CHECK(encode_normal_component(0.0) == 32768);  // 32767.5
    CHECK(encode_normal_component(1.0) == 65535);
    CHECK(encode_normal_component(-1.0) == 0);
    CHECK(encode_normal_component(0.5) == 49151);  // 49151.25
    CHECK(encode_normal_component(1.0 + 1e-7) == 65535);
    CHECK(encode_normal_component(-1.0 - 1e-7) == 0);
    CHECK(encode_normal_component(not_a_number) == 32768);
    CHECK(decode_normal_component(0) == -1.0);
    CHECK(decode_normal_component(65535) == 1.0);
}
