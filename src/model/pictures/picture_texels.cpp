#include "model/pictures/picture_texels.hpp"

#include <algorithm>
#include <bit>
#include <cmath>

namespace rakelight {
namespace {

std::uint32_t sample_bytes(Sample sample) {
    if (sample == Sample::unorm8 || sample == Sample::snorm8) return 1;
    return sample == Sample::single_float ? 4 : 2;
}

std::uint32_t whole_at(const unsigned char* at, std::uint32_t size, bool big_endian) {
    std::uint32_t value = 0;
    for (std::uint32_t k = 0; k < size; ++k)
        value |= std::uint32_t{at[k]} << 8 * (big_endian ? size - 1 - k : k);
    return value;
}

std::uint16_t signed_code(std::int32_t value, std::int32_t one) {
    const double v = std::max(-1.0, static_cast<double>(value) / one);
    return static_cast<std::uint16_t>(std::lround(32767.5 * (v + 1.0)));
}

std::uint16_t code_of_whole(Sample sample, std::uint32_t bits) {
    switch (sample) {
        case Sample::unorm8:
            return static_cast<std::uint16_t>(257 * bits);
        case Sample::snorm8:
            return signed_code(static_cast<std::int8_t>(bits), 127);
        case Sample::snorm16:
            return signed_code(static_cast<std::int16_t>(bits), 32767);
        default:
            return static_cast<std::uint16_t>(bits);
    }
}

bool is_float(Sample sample) {
    return sample == Sample::half_float || sample == Sample::single_float;
}

/// Where channel c of a texel is stored.
std::uint32_t place_of(const TexelForm& form, std::uint32_t c) {
    return form.blue_first && c < 3 ? 2 - c : c;
}

std::uint32_t colours_of(Channels channels) {
    return count_of(channels) - (has_alpha(channels) ? 1 : 0);
}

template <class Visit>
void for_colours(const FloatTexels& texels, const Visit& visit) {
    const std::uint32_t count = count_of(texels.channels), colours = colours_of(texels.channels);
    for (std::size_t i = 0; i < texels.values.size(); i += count)
        for (std::uint32_t c = 0; c < colours; ++c) visit(texels.values[i + c]);
}

void refuse_not_finite(const FloatTexels& texels) {
    const auto broken = std::count_if(texels.values.begin(), texels.values.end(),
                                      [](float v) { return !std::isfinite(v); });
    if (broken == 0) return;
    throw UnreadablePicture(std::to_string(broken) + " of its " +
                            std::to_string(texels.values.size()) +
                            " values are infinite or no numbers; expected finite ones; render it "
                            "anew");
}

/// Whether most texels are unit vectors that lean towards the viewer when they are read as
/// v * scale + shift.
bool are_directions(const FloatTexels& texels, double scale, double shift) {
    const std::uint32_t count = count_of(texels.channels);
    if (colours_of(texels.channels) < 3) return false;
    std::uint64_t directions = 0;
    for (std::size_t i = 0; i < texels.values.size(); i += count) {
        const auto part = [&](std::size_t c) { return texels.values[i + c] * scale + shift; };
        directions += std::fabs(std::hypot(part(0), part(1), part(2)) - 1.0) < 0.15 && part(2) > 0;
    }
    return 10 * directions * count > 7 * texels.values.size();
}

/// code = 65535 * (v * scale + shift)
struct Spread {
    double scale = 1.0;
    double shift = 0.0;
    std::string note;
};

std::string number_text(double number) {
    std::string text = std::to_string(number);
    text.erase(text.find_last_not_of('0') + 1);
    if (text.ends_with('.')) text.pop_back();
    return text;
}

Spread spread_of(const FloatTexels& texels) {
    float low = texels.values.front(), high = low;
    for_colours(texels, [&](float v) {
        low = std::min(low, v);
        high = std::max(high, v);
    });
    constexpr float slack = 1.0F / 256;  // what smoothing and rounding add
    if (low >= 0.0F && high <= 1.0F) return {};
    if (are_directions(texels, 2.0, -1.0)) return {};
    const bool is_pair = texels.channels == Channels::red_green && low >= -1.0F - slack;
    if (low < 0.0F && high <= 1.0F + slack && (is_pair || are_directions(texels, 1.0, 0.0)))
        return {0.5, 0.5, {}};
    if (low >= -slack && high <= 1.0F + slack) return {};
    const double span = std::max(double{high} - double{low}, 1e-30);
    return {1.0 / span, -low / span,
            "its values run from " + number_text(low) + " to " + number_text(high) +
                ", beyond 0 to 1: the least was taken for black, the largest for white"};
}

}  // namespace

std::uint32_t count_of(Channels channels) {
    switch (channels) {
        case Channels::grey:
            return 1;
        case Channels::grey_alpha:
        case Channels::red_green:
            return 2;
        case Channels::rgb:
            return 3;
        default:
            return 4;
    }
}

bool has_alpha(Channels channels) {
    return channels == Channels::grey_alpha || channels == Channels::rgba;
}

float float_from_half(std::uint32_t bits) {
    const std::uint32_t exponent = bits >> 10 & 31, fraction = bits & 1023;
    float value = 0.0F;
    if (exponent == 31)
        value = fraction == 0 ? INFINITY : NAN;
    else if (exponent == 0)
        value = std::ldexp(static_cast<float>(fraction), -24);
    else
        value = std::ldexp(static_cast<float>(fraction | 1024), static_cast<int>(exponent) - 25);
    return (bits & 0x8000) != 0 ? -value : value;
}

std::uint32_t bytes_of(const TexelForm& form) {
    return sample_bytes(form.sample) * count_of(form.channels);
}

PictureFile blank_picture(std::uint64_t width, std::uint64_t height, Channels channels) {
    check_picture_size(width, height);
    PictureFile picture;
    picture.width = static_cast<std::uint32_t>(width);
    picture.height = static_cast<std::uint32_t>(height);
    picture.channels = channels == Channels::red_green ? 3 : count_of(channels);
    picture.values.resize(std::size_t{picture.width} * picture.height * picture.channels);
    return picture;
}

PictureFile picture_from_floats(const FloatTexels& texels) {
    PictureFile picture = blank_picture(texels.width, texels.height, texels.channels);
    refuse_not_finite(texels);
    const Spread spread = spread_of(texels);
    picture.note = spread.note;
    const std::uint32_t count = count_of(texels.channels), colours = colours_of(texels.channels);
    const std::size_t all = std::size_t{texels.width} * texels.height;
    for (std::size_t i = 0; i < all; ++i)
        for (std::uint32_t c = 0; c < count; ++c) {
            const double v = texels.values[i * count + c];
            const double share = c < colours ? v * spread.scale + spread.shift : v;
            picture.values[i * picture.channels + c] =
                static_cast<std::uint16_t>(std::lround(65535.0 * std::clamp(share, 0.0, 1.0)));
        }
    return picture;
}

PictureFile picture_from_texels(const TexelForm& form, std::uint64_t width, std::uint64_t height,
                                PictureBytes bytes, std::uint64_t row_bytes) {
    check_picture_size(width, height);
    const std::uint32_t size = sample_bytes(form.sample), count = count_of(form.channels);
    // The last row needs no filling behind it.
    bytes = part_of(bytes, 0, (height - 1) * row_bytes + width * size * count);
    const auto sample_at = [&](std::uint64_t x, std::uint64_t y, std::uint32_t c) {
        const std::uint64_t at = y * row_bytes + (x * count + place_of(form, c)) * size;
        return whole_at(bytes.data() + at, size, form.big_endian);
    };
    if (is_float(form.sample)) {
        FloatTexels floats{static_cast<std::uint32_t>(width),
                           static_cast<std::uint32_t>(height),
                           form.channels,
                           {}};
        floats.values.reserve(width * height * count);
        for (std::uint64_t y = 0; y < height; ++y)
            for (std::uint64_t x = 0; x < width; ++x)
                for (std::uint32_t c = 0; c < count; ++c) {
                    const std::uint32_t bits = sample_at(x, y, c);
                    floats.values.push_back(form.sample == Sample::half_float
                                                ? float_from_half(bits)
                                                : std::bit_cast<float>(bits));
                }
        return picture_from_floats(floats);
    }
    PictureFile picture = blank_picture(width, height, form.channels);
    for (std::uint64_t y = 0; y < height; ++y)
        for (std::uint64_t x = 0; x < width; ++x)
            for (std::uint32_t c = 0; c < count; ++c)
                picture.values[(y * width + x) * picture.channels + c] =
                    code_of_whole(form.sample, sample_at(x, y, c));
    return picture;
}

void drop_opaque_alpha(PictureFile& picture) {
    if (!picture.has_alpha()) return;
    const std::uint64_t texels = std::uint64_t{picture.width} * picture.height;
    const std::uint32_t from = picture.channels, to = from - 1;
    for (std::uint64_t i = 0; i < texels; ++i)
        if (picture.at(i, to) != 65535) return;
    for (std::uint64_t i = 0; i < texels; ++i)
        for (std::uint32_t c = 0; c < to; ++c)
            picture.values[i * to + c] = picture.values[i * from + c];
    picture.values.resize(texels * to);
    picture.channels = to;
}

void divide_by_alpha(PictureFile& picture) {
    if (!picture.has_alpha()) return;
    const std::uint32_t count = picture.channels;
    for (std::size_t i = 0; i < picture.values.size(); i += count) {
        const std::uint64_t alpha = picture.values[i + count - 1];
        if (alpha == 0) continue;
        for (std::uint32_t c = 0; c + 1 < count; ++c) {
            const std::uint64_t whole = (65535 * std::uint64_t{picture.values[i + c]} + alpha / 2);
            picture.values[i + c] =
                static_cast<std::uint16_t>(std::min<std::uint64_t>(65535, whole / alpha));
        }
    }
}

PictureFile upright(PictureFile picture, unsigned orientation) {
    if (orientation < 2 || orientation > 8) return picture;
    // TIFF 6.0, page 36: which sides of the picture row 0 and column 0 are.
    const bool swapped = orientation >= 5;
    const bool from_right =
        orientation == 2 || orientation == 3 || orientation == 6 || orientation == 7;
    const bool from_bottom =
        orientation == 3 || orientation == 4 || orientation == 7 || orientation == 8;
    PictureFile turned = picture;
    if (swapped) std::swap(turned.width, turned.height);
    const std::uint32_t count = picture.channels;
    for (std::uint32_t y = 0; y < turned.height; ++y)
        for (std::uint32_t x = 0; x < turned.width; ++x) {
            const std::uint32_t across = from_right ? turned.width - 1 - x : x;
            const std::uint32_t down = from_bottom ? turned.height - 1 - y : y;
            const std::size_t from = swapped ? std::size_t{across} * picture.width + down
                                             : std::size_t{down} * picture.width + across;
            const std::size_t to = std::size_t{y} * turned.width + x;
            for (std::uint32_t c = 0; c < count; ++c)
                turned.values[to * count + c] = picture.values[from * count + c];
        }
    return turned;
}

PictureBytes part_of(PictureBytes bytes, std::uint64_t offset, std::uint64_t size) {
    if (offset <= bytes.size() && size <= bytes.size() - offset) return bytes.subspan(offset, size);
    throw UnreadablePicture("it is cut short: it promises " + std::to_string(size) +
                            " bytes from byte " + std::to_string(offset) + " on and has " +
                            std::to_string(bytes.size()) + " in all; fetch it again");
}

std::uint32_t number_at(PictureBytes bytes, std::uint64_t offset, bool big_endian) {
    return whole_at(part_of(bytes, offset, 4).data(), 4, big_endian);
}

}  // namespace rakelight
