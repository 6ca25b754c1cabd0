#include "scene/words.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <vector>

#include "printable.hpp"

namespace rakelight::scene_file {

std::string number_text(double number) {
    // 17 digits, sign, point and a three-digit exponent fit in 24 characters.
    std::array<char, 32> digits{};
    const auto [end, fault] = std::to_chars(digits.data(), digits.data() + digits.size(), number);
    return std::string(digits.data(), end);
}

std::string toml_number(double number) {
    std::string text = number_text(number);
    // "inf" and "nan" hold an "n" and are floats as they are.
    if (text.find_first_of(".en") == std::string::npos) text += ".0";
    return text;
}

namespace {

/// Characters of the file's own text that a message repeats.
constexpr std::size_t longest_shown = 60;

std::string escaped(char c) {
    switch (c) {
        case '"':
            return "\\\"";
        case '\\':
            return "\\\\";
        case '\n':
            return "\\n";
        case '\r':
            return "\\r";
        case '\t':
            return "\\t";
        default:
            break;
    }
    const auto byte = static_cast<unsigned char>(c);
    if (byte >= 0x20 && byte != 0x7f) return std::string(1, c);
    constexpr std::string_view digits = "0123456789abcdef";
    return std::string("\\u00") + digits[byte >> 4] + digits[byte & 15];
}

bool continues_character(char c) {
    return (static_cast<unsigned char>(c) & 0xc0) == 0x80;
}

}  // namespace

std::string toml_string(std::string_view text) {
    std::string out = "\"";
    for (const char c : text) out += escaped(c);
    return out + '"';
}

std::string shown(std::string_view text) {
    std::size_t characters = 0;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (continues_character(text[i])) continue;
        if (++characters > longest_shown) return toml_string(text.substr(0, i)) + "...";
    }
    return toml_string(text);
}

std::string key_text(std::string_view key) {
    constexpr std::string_view bare =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_-";
    const bool is_bare = !key.empty() && key.find_first_not_of(bare) == std::string_view::npos;
    return is_bare && key.size() <= longest_shown ? std::string(key) : shown(key);
}

std::string either(std::span<const std::string_view> words, std::string_view quote) {
    std::string out;
    for (std::size_t i = 0; i < words.size(); ++i) {
        if (i > 0) out += i + 1 == words.size() ? " or " : ", ";
        out.append(quote).append(words[i]).append(quote);
    }
    return out;
}

std::string counted(std::size_t count, std::string_view noun) {
    std::string out = std::to_string(count) + ' ';
    return out.append(noun).append(count == 1 ? "" : "s");
}

std::size_t valid_utf8_length(std::string_view text) {
    std::size_t at = 0;
    while (at < text.size()) {
        const std::size_t length = utf8_character_length(text.substr(at));
        if (length == 0) break;
        at += length;
    }
    return at;
}

namespace {

char lower(char c) {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
}

/// Edits between two words, a swap of neighbours counting as one (the restricted
/// Damerau-Levenshtein distance).
std::size_t edits(std::string_view a, std::string_view b) {
    // Three rows of the table: two lines up (for swaps), one line up, and the line in work.
    std::vector<std::size_t> above2(b.size() + 1), above(b.size() + 1), row(b.size() + 1);
    for (std::size_t j = 0; j <= b.size(); ++j) above[j] = j;
    for (std::size_t i = 1; i <= a.size(); ++i) {
        row[0] = i;
        for (std::size_t j = 1; j <= b.size(); ++j) {
            const bool same = lower(a[i - 1]) == lower(b[j - 1]);
            row[j] = std::min({above[j] + 1, row[j - 1] + 1, above[j - 1] + (same ? 0 : 1)});
            const bool swapped = i > 1 && j > 1 && lower(a[i - 1]) == lower(b[j - 2]) &&
                                 lower(a[i - 2]) == lower(b[j - 1]);
            if (swapped) row[j] = std::min(row[j], above2[j - 2] + 1);
        }
        std::swap(above2, above);
        std::swap(above, row);
    }
    return above[b.size()];
}

}  // namespace

std::optional<std::string_view> nearest(std::string_view word,
                                        std::span<const std::string_view> known) {
    constexpr std::size_t shortest_beginning = 3;
    std::optional<std::string_view> best;
    std::size_t fewest = 0;
    for (const std::string_view candidate : known) {
        if (word.size() >= shortest_beginning && candidate.starts_with(word)) return candidate;
        const std::size_t allowed = std::max<std::size_t>(1, candidate.size() / 3);
        // Cheap way out, also for a word of a million letters.
        if (word.size() > candidate.size() + allowed) continue;
        const std::size_t count = edits(word, candidate);
        if (count <= allowed && (!best || count < fewest)) {
            best = candidate;
            fewest = count;
        }
    }
    return best;
}

}  // namespace rakelight::scene_file
