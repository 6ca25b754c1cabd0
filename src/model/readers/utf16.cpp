// Unicode Standard, section 3.9: tables 3-5 (UTF-16) and 3-6 (UTF-8); section 3.10 for the byte
// order mark.

#include "model/readers/utf16.hpp"

#include <algorithm>
#include <cstdint>

namespace rakelight {
namespace {

constexpr std::uint32_t replacement = 0xFFFD;

/// The units behind the byte order mark.
class Units {
public:
    explicit Units(std::string_view bytes) : bytes_(bytes) {
        if (bytes.starts_with("\xFE\xFF")) high_ = 0;
        if (bytes.starts_with("\xFF\xFE")) high_ = 1;
    }
    bool marked() const { return high_ >= 0; }
    std::size_t count() const { return bytes_.size() / 2 - 1; }
    std::uint32_t at(std::size_t i) const {
        const auto byte = [&](std::size_t k) {
            return std::uint32_t{static_cast<unsigned char>(bytes_[2 * i + 2 + k])};
        };
        return high_ == 0 ? byte(0) << 8 | byte(1) : byte(1) << 8 | byte(0);
    }

private:
    std::string_view bytes_;
    int high_ = -1;  ///< which byte of two is the high one
};

void append(std::string& text, std::uint32_t point) {
    const auto tail = [&](int shift) {
        text += static_cast<char>(0x80 | ((point >> shift) & 0x3F));
    };
    if (point < 0x80) {
        text += static_cast<char>(point);
    } else if (point < 0x800) {
        text += static_cast<char>(0xC0 | (point >> 6));
        tail(0);
    } else if (point < 0x10000) {
        text += static_cast<char>(0xE0 | (point >> 12));
        tail(6);
        tail(0);
    } else {
        text += static_cast<char>(0xF0 | (point >> 18));
        tail(12);
        tail(6);
        tail(0);
    }
}

}  // namespace

bool begins_utf16(std::string_view bytes) {
    const Units units(bytes);
    if (!units.marked() || bytes.size() < 4) return false;
    const std::size_t seen = std::min<std::size_t>(units.count(), 256);
    std::size_t letters = 0;
    for (std::size_t i = 0; i < seen; ++i) {
        const std::uint32_t unit = units.at(i);
        if (unit < 0x20 && unit != '\t' && unit != '\r' && unit != '\n') return false;
        letters += unit < 0x7F;
    }
    return 2 * letters > seen;
}

std::optional<std::string> utf8_from_utf16(std::string_view bytes) {
    if (!begins_utf16(bytes)) return std::nullopt;
    const Units units(bytes);
    std::string text;
    text.reserve(units.count() + units.count() / 8);
    for (std::size_t i = 0; i < units.count(); ++i) {
        const std::uint32_t unit = units.at(i);
        if (unit < 0xD800 || unit > 0xDFFF) {
            append(text, unit);
            continue;
        }
        const std::uint32_t next = i + 1 < units.count() ? units.at(i + 1) : 0;
        if (unit < 0xDC00 && next >= 0xDC00 && next <= 0xDFFF) {
            append(text, 0x10000 + ((unit - 0xD800) << 10) + (next - 0xDC00));
            ++i;
        } else {
            append(text, replacement);
        }
    }
    return text;
}

}  // namespace rakelight
