#include "printable.hpp"

#include <algorithm>
#include <cstdint>

namespace rakelight {
namespace {

/// The number of a well-formed character.
std::uint32_t code_of(std::string_view character) {
    const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(character[i]); };
    if (character.size() == 1) return byte(0);
    std::uint32_t code = byte(0) & (0x7FU >> character.size());
    for (std::size_t i = 1; i < character.size(); ++i) code = code << 6 | (byte(i) & 0x3FU);
    return code;
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
        const std::size_t length = utf8_character_length(text);
        const std::string_view character = text.substr(0, length);
        if (length > 0 && keep(code_of(character)))
            out += character;
        else
            out += '_';
        text.remove_prefix(std::max<std::size_t>(1, length));
    }
    return out;
}

}  // namespace

std::size_t utf8_character_length(std::string_view text) {
    const auto byte = [text](std::size_t i) {
        return i < text.size() ? static_cast<unsigned char>(text[i]) : 0U;
    };
    const unsigned lead = byte(0);
    if (lead < 0x80) return text.empty() ? 0 : 1;
    if (lead < 0xC2 || lead > 0xF4) return 0;
    const unsigned low = lead == 0xE0 ? 0xA0 : lead == 0xF0 ? 0x90 : 0x80;
    const unsigned high = lead == 0xED ? 0x9F : lead == 0xF4 ? 0x8F : 0xBF;
    if (byte(1) < low || byte(1) > high) return 0;
    const std::size_t length = lead < 0xE0 ? 2 : lead < 0xF0 ? 3 : 4;
    for (std::size_t i = 2; i < length; ++i)
        if ((byte(i) & 0xC0) != 0x80) return 0;
    return length;
}

std::string printable(std::string_view text) {
    return kept(text, is_shown);
}

std::string valid_utf8(std::string_view text) {
    return kept(text, [](std::uint32_t) { return true; });
}

}  // namespace rakelight
