#pragma once
// Pictures in bytes, by the descriptions of their formats: Microsoft's "Programming Guide for DDS",
// the KTX File Format Specifications 1 and 2.0, TIFF 6.0. Nothing here is the program's own.

#include <array>
#include <cstdint>
#include <functional>
#include <string>
#include <utility>
#include <vector>

namespace picture_test {

inline std::string little(std::uint64_t value, int bytes = 4) {
    std::string out;
    for (int k = 0; k < bytes; ++k) out += static_cast<char>(value >> 8 * k & 255);
    return out;
}

inline std::string big(std::uint64_t value, int bytes = 4) {
    std::string out;
    for (int k = bytes; k-- > 0;) out += static_cast<char>(value >> 8 * k & 255);
    return out;
}

struct DdsFormat {
    std::uint32_t flags = 4;  ///< DDPF_FOURCC
    std::string code = std::string(4, '\0');
    std::uint32_t bits = 0;
    std::array<std::uint32_t, 4> masks{};
    std::uint32_t dxgi = 0;  ///< with the code DX10
    std::uint32_t caps2 = 0;
};

inline std::string dds(std::uint32_t width, std::uint32_t height, const DdsFormat& f,
                       const std::string& texels) {
    std::string out = "DDS " + little(124) + little(0x1007) + little(height) + little(width);
    out += little(0) + little(0) + little(1) + std::string(44, '\0');
    out += little(32) + little(f.flags) + f.code + little(f.bits);
    for (const std::uint32_t mask : f.masks) out += little(mask);
    out += little(0x1000) + little(f.caps2) + std::string(12, '\0');
    if (f.code == "DX10") out += little(f.dxgi) + little(3) + little(0) + little(1) + little(0);
    return out + texels;
}

/// A KTX 2 file of one level.
inline std::string ktx2(std::uint32_t width, std::uint32_t height, std::uint32_t format,
                        const std::string& texels, std::uint32_t packing = 0,
                        std::uint64_t unpacked_bytes = 0, const std::string& pairs = "") {
    const std::uint32_t pairs_at = 104;
    std::string out = "\xABKTX 20\xBB\r\n\x1A\n" + little(format) + little(1) + little(width) +
                      little(height) + little(0) + little(0) + little(1) + little(1) +
                      little(packing);
    out += little(0) + little(0) + little(pairs_at) + little(pairs.size()) + little(0, 8) +
           little(0, 8);
    out += little(pairs_at + pairs.size(), 8) + little(texels.size(), 8) +
           little(packing == 0 ? texels.size() : unpacked_bytes, 8);
    return out + pairs + texels;
}

/// A KTX 1 file of one level, in either byte order.
inline std::string ktx1(std::uint32_t width, std::uint32_t height, std::uint32_t type,
                        std::uint32_t format, std::uint32_t internal, const std::string& texels,
                        const std::string& pairs = "", bool is_big = false) {
    const auto n = [&](std::uint64_t v) { return is_big ? big(v) : little(v); };
    return "\xABKTX 11\xBB\r\n\x1A\n" + n(0x04030201) + n(type) + n(1) + n(format) + n(internal) +
           n(0x1908) + n(width) + n(height) + n(0) + n(0) + n(1) + n(1) + n(pairs.size()) + pairs +
           n(texels.size()) + texels;
}

/// One key and its value, as both versions have them.
inline std::string key_value(const std::string& key, const std::string& value) {
    const std::string pair = key + '\0' + value + '\0';
    return little(pair.size()) + pair + std::string((4 - pair.size() % 4) % 4, '\0');
}

/// Numbers and how many bits each has.
using Fields = std::vector<std::pair<std::uint32_t, int>>;

/// 16 bytes of fields, the first one lowest; the rest is 0.
inline std::string block_of(const Fields& fields) {
    std::string bytes(16, '\0');
    std::size_t at = 0;
    for (const auto& [value, bits] : fields)
        for (int k = 0; k < bits; ++k, ++at)
            bytes.at(at / 8) = static_cast<char>(static_cast<unsigned char>(bytes[at / 8]) |
                                                 (value >> k & 1U) << at % 8);
    return bytes;
}

/// The places of 16 texels in a palette, `bits` each, the first one lowest.
inline std::string picks(int bits, const std::array<int, 16>& places) {
    std::uint64_t all = 0;
    for (int i = 0; i < 16; ++i)
        all |= static_cast<std::uint64_t>(places[static_cast<std::size_t>(i)]) << bits * i;
    return little(all, 2 * bits);
}

/// A baseline TIFF of 16-bit RGB in one strip, not packed, lowest byte first.
inline std::string tiff16(std::uint32_t width, std::uint32_t height,
                          const std::function<std::uint16_t(int x, int y, int c)>& code) {
    std::string texels;
    for (std::uint32_t y = 0; y < height; ++y)
        for (std::uint32_t x = 0; x < width; ++x)
            for (int c = 0; c < 3; ++c)
                texels += little(code(static_cast<int>(x), static_cast<int>(y), c), 2);
    const auto tag = [](std::uint16_t number, std::uint16_t type, std::uint64_t count,
                        std::uint64_t value) {
        return little(number, 2) + little(type, 2) + little(count) + little(value);
    };
    constexpr std::uint32_t tags = 9, directory = 8, bits_at = directory + 2 + 12 * tags + 4;
    constexpr std::uint16_t short_type = 3, long_type = 4;
    std::string out = std::string("II*\0", 4) + little(directory) + little(tags, 2);
    out += tag(256, long_type, 1, width) + tag(257, long_type, 1, height);
    out += tag(258, short_type, 3, bits_at) + tag(259, short_type, 1, 1);
    out += tag(262, short_type, 1, 2) + tag(273, long_type, 1, bits_at + 6);
    out += tag(277, short_type, 1, 3) + tag(278, long_type, 1, height);
    out += tag(279, long_type, 1, texels.size()) + little(0);
    return out + little(16, 2) + little(16, 2) + little(16, 2) + texels;
}

}  // namespace picture_test
