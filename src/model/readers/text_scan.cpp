#include "model/readers/text_scan.hpp"

#include <algorithm>
#include <array>
#include <bit>
#include <cctype>
#include <charconv>
#include <cstdlib>
#include <cstring>
#include <limits>
#include <string>
#include <system_error>

namespace rakelight {
namespace {

// All powers of ten that a double holds exactly.
constexpr std::array<double, 23> powers_of_ten{1e0,  1e1,  1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                               1e8,  1e9,  1e10, 1e11, 1e12, 1e13, 1e14, 1e15,
                                               1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22};

/// mantissa * 10^exponent as the nearest float, where two exact doubles give it in one rounding
/// (W. D. Clinger 1990, "How to Read Floating Point Numbers Accurately"). False where they do not:
/// too many digits, or a double that lies halfway between two floats, which may have come there by
/// its own rounding.
bool nearest_float(std::uint64_t mantissa, int exponent, float& value) {
    if (mantissa > std::uint64_t{1} << 53 || exponent < -22 || exponent > 22) return false;
    const double exact = static_cast<double>(mantissa);
    const double nearest = exponent < 0 ? exact / powers_of_ten[static_cast<std::size_t>(-exponent)]
                                        : exact * powers_of_ten[static_cast<std::size_t>(exponent)];
    constexpr std::uint64_t lower = (1u << 29) - 1, halfway = 1u << 28;  // 53 bits less 24
    if ((std::bit_cast<std::uint64_t>(nearest) & lower) == halfway) return false;
    if (nearest != 0.0 && (nearest < double{std::numeric_limits<float>::min()} ||
                           nearest > double{std::numeric_limits<float>::max()}))
        return false;
    value = static_cast<float>(nearest);
    return true;
}

bool ends_number(const char* at, const char* end) {
    return at == end || static_cast<unsigned char>(*at) <= ' ';
}

}  // namespace

void TextScan::skip_continuation() {
    const char* next = at_ + 1;
    if (next != end_ && *next == '\r') ++next;
    if (next == end_ || *next != '\n') throw Unfamiliar();
    at_ = next;
}

void TextScan::skip_line() {
    for (;;) {
        const auto* line_end =
            static_cast<const char*>(std::memchr(at_, '\n', static_cast<std::size_t>(end_ - at_)));
        if (line_end == nullptr) {
            at_ = end_;
            return;
        }
        const char* last = line_end;
        if (last != at_ && last[-1] == '\r') --last;
        const bool continued = last != at_ && last[-1] == '\\';
        at_ = line_end + 1;
        if (!continued) return;
    }
}

std::string_view TextScan::rest_of_line() {
    skip_blanks();
    const char* first = at_;
    skip_line();
    const char* last = at_;
    while (last != first && static_cast<unsigned char>(last[-1]) <= ' ') --last;
    const std::string_view text(first, static_cast<std::size_t>(last - first));
    // A lone carriage return, or a continued line.
    if (text.find_first_of("\r\n\\") != std::string_view::npos) throw Unfamiliar();
    return text;
}

float TextScan::number() {
    skip_blanks();
    const char* first = at_;
    const bool negative = at_ != end_ && *at_ == '-';
    if (at_ != end_ && (*at_ == '-' || *at_ == '+')) ++at_;
    std::uint64_t mantissa = 0;
    const char* digits = at_;
    for (; at_ != end_ && is_digit(*at_); ++at_) mantissa = 10 * mantissa + unsigned(*at_ - '0');
    std::ptrdiff_t count = at_ - digits;
    int exponent = 0;
    if (at_ != end_ && *at_ == '.') {
        const char* fraction = ++at_;
        for (; at_ != end_ && is_digit(*at_); ++at_)
            mantissa = 10 * mantissa + unsigned(*at_ - '0');
        count += at_ - fraction;
        exponent = -static_cast<int>(std::min<std::ptrdiff_t>(at_ - fraction, 1000));
    }
    if (count == 0 || count > 19) return unusual_number(first);  // 19 digits fit into 64 bits
    if (at_ != end_ && (*at_ == 'e' || *at_ == 'E')) {
        ++at_;
        const bool below = at_ != end_ && *at_ == '-';
        if (at_ != end_ && (*at_ == '-' || *at_ == '+')) ++at_;
        int power = 0;
        const char* from = at_;
        for (; at_ != end_ && is_digit(*at_) && at_ - from < 4; ++at_)
            power = 10 * power + (*at_ - '0');
        if (at_ == from) return unusual_number(first);
        exponent += below ? -power : power;
    }
    float value = 0.0f;
    if (!ends_number(at_, end_) || !nearest_float(mantissa, exponent, value))
        return unusual_number(first);
    return negative ? -value : value;
}

float TextScan::unusual_number(const char* first) {
    if (first != end_ && *first == '+') {
        ++first;
        if (first != end_ && *first == '-') throw Unfamiliar();
    }
    float value = 0.0f;
    const auto [after, error] = std::from_chars(first, end_, value);
    if (error == std::errc::invalid_argument || !ends_number(after, end_)) throw Unfamiliar();
    at_ = after;
    if (error == std::errc{}) return value;
    // Beyond the range of floats: infinite, zero or almost. from_chars does not say which.
    const std::string copy(first, after);
    return std::strtof(copy.c_str(), nullptr);
}

std::vector<std::string_view> cut_at_lines(std::string_view text, std::size_t size) {
    std::vector<std::string_view> runs;
    while (text.size() > size) {
        TextScan rest(text.substr(size - 1));
        // What is looked at may begin behind the backslash that continues the first of its lines.
        std::size_t taken = 0;
        bool continued = false;
        do {
            rest.skip_line();
            taken = static_cast<std::size_t>(rest.place() - text.data());
            const std::string_view end = text.substr(0, taken);
            continued = end.ends_with("\\\n") || end.ends_with("\\\r\n");
        } while (continued && !rest.at_end());
        runs.push_back(text.substr(0, taken));
        text.remove_prefix(taken);
    }
    if (!text.empty()) runs.push_back(text);
    return runs;
}

std::string_view trimmed(std::string_view text) {
    while (!text.empty() && is_gap(text.front())) text.remove_prefix(1);
    while (!text.empty() && is_gap(text.back())) text.remove_suffix(1);
    return text;
}

std::string_view without_utf8_mark(std::string_view text) {
    if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
    return text;
}

std::string without_escapes(std::string_view uri) {
    std::string out;
    for (std::size_t i = 0; i < uri.size(); ++i) {
        unsigned byte = 0;
        const char* digits = uri.data() + i + 1;
        const bool escape = uri[i] == '%' && i + 2 < uri.size() &&
                            std::from_chars(digits, digits + 2, byte, 16).ptr == digits + 2;
        out += escape && byte > 0 ? static_cast<char>(byte) : uri[i];
        if (escape && byte > 0) i += 2;
    }
    return out;
}

std::string lower(std::string text) {
    std::transform(text.begin(), text.end(), text.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return text;
}

}  // namespace rakelight
