#include "printable.hpp"

#include <array>
#include <cstdint>

namespace rakelight {
namespace {

/// A character and how many bytes it takes; 0 of them: there is none at the start of the text.
struct Character {
    std::uint32_t code = 0;
    std::size_t bytes = 0;
};

/// RFC 3629, section 3: no overlong forms, no surrogates, nothing past U+10FFFF.
Character first_of(std::string_view text) {
    const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
    if (byte(0) < 0x80) return {byte(0), 1};
    const std::size_t size = byte(0) >= 0xF0 ? 4 : byte(0) >= 0xE0 ? 3 : 2;
    if (byte(0) < 0xC2 || byte(0) > 0xF4 || text.size() < size) return {};
    std::uint32_t code = byte(0) & (0x7FU >> size);
    for (std::size_t i = 1; i < size; ++i) {
        if ((byte(i) & 0xC0) != 0x80) return {};
        code = code << 6 | (byte(i) & 0x3FU);
    }
    constexpr std::array<std::uint32_t, 5> least{0, 0, 0x80, 0x800, 0x10000};
    const bool surrogate = code >= 0xD800 && code <= 0xDFFF;
    if (code < least[size] || code > 0x10FFFF || surrogate) return {};
    return {code, size};
}

bool is_shown(std::uint32_t code) {
    if (code < 0x20 || (code >= 0x7F && code <= 0x9F)) return false;
    const bool separator = code == 0x2028 || code == 0x2029;
    const bool turns = code == 0x61C || code == 0x200E || code == 0x200F ||
                       (code >= 0x202A && code <= 0x202E) || (code >= 0x2066 && code <= 0x2069);
    return !separator && !turns;
}

template <typename Keep>
std::string kept(std::string_view text, const Keep& keep) {
    std::string out;
    out.reserve(text.size());
    while (!text.empty()) {
        const Character character = first_of(text);
        const std::size_t bytes = character.bytes == 0 ? 1 : character.bytes;
        if (character.bytes > 0 && keep(character.code))
            out += text.substr(0, bytes);
        else
            out += '_';
        text.remove_prefix(bytes);
    }
    return out;
}

}  // namespace

std::string printable(std::string_view text) {
    return kept(text, is_shown);
}

std::string valid_utf8(std::string_view text) {
    return kept(text, [](std::uint32_t) { return true; });
}

}  // namespace rakelight
