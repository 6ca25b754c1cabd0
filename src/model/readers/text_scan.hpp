#pragma once
// Words and numbers of a text file, without copying it. Private to model/.

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

namespace rakelight {

/// Thrown where a plain reader meets what it does not understand: the file is left to the importer.
struct Unfamiliar {};

inline bool is_blank(char c) {
    return c == ' ' || c == '\t';
}
inline bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

/// A place in a text. Nothing is read at or past its end.
class TextScan {
public:
    explicit TextScan(std::string_view text) : at_(text.data()), end_(at_ + text.size()) {}

    bool at_end() const { return at_ == end_; }
    const char* place() const { return at_; }

    /// Passes over blanks, and over line ends that a backslash takes back.
    void skip_blanks() {
        for (;; ++at_) {
            if (at_ == end_ || !(is_blank(*at_) || *at_ == '\\')) return;
            if (*at_ == '\\') skip_continuation();
        }
    }

    /// Whether nothing but a line end, which is passed over, or the end of the text comes here.
    bool take_line_end() {
        if (at_ == end_) return true;
        if (*at_ == '\r' && (end_ - at_ == 1 || at_[1] == '\n')) ++at_;
        if (at_ == end_) return true;
        if (*at_ != '\n') return false;
        ++at_;
        return true;
    }

    /// Passes over the rest of the line and its end; a backslash before it takes in the next line.
    void skip_line();

    /// Passes over the rest of the line and gives it without the blanks around it. Throws
    /// Unfamiliar when it is continued.
    std::string_view rest_of_line();

    /// The characters up to the next blank, line end or backslash; may be empty.
    std::string_view word() {
        const char* first = at_;
        while (at_ != end_ && static_cast<unsigned char>(*at_) > ' ' && *at_ != '\\') ++at_;
        return {first, static_cast<std::size_t>(at_ - first)};
    }

    /// The next number on this line, rounded to the nearest float; also "nan" and "inf". Throws
    /// Unfamiliar when there is none or something else clings to it.
    float number();

    /// A whole number of at most ten digits with an optional sign, ended by anything. Throws
    /// Unfamiliar.
    std::int64_t integer() {
        const bool negative = at_ != end_ && *at_ == '-';
        if (at_ != end_ && (*at_ == '-' || *at_ == '+')) ++at_;
        const char* first = at_;
        std::int64_t value = 0;
        for (; at_ != end_ && is_digit(*at_); ++at_) {
            if (at_ - first == 10) throw Unfamiliar();
            value = 10 * value + (*at_ - '0');
        }
        if (at_ == first) throw Unfamiliar();
        return negative ? -value : value;
    }

    /// Whether a word cannot go on here.
    bool at_word_end() const {
        return at_ == end_ || static_cast<unsigned char>(*at_) <= ' ' || *at_ == '\\';
    }

    /// Passes over `c` if it comes here.
    bool take(char c) {
        if (at_ == end_ || *at_ != c) return false;
        ++at_;
        return true;
    }

private:
    void skip_continuation();
    float unusual_number(const char* first);

    const char* at_;
    const char* end_;
};

/// Cuts a text into runs of lines of about `size` bytes each; the cut depends on the text alone.
/// No run ends in a line that a backslash continues.
std::vector<std::string_view> cut_at_lines(std::string_view text, std::size_t size);

/// Whether words end at it: a blank or a control character.
inline bool is_gap(char c) {
    return static_cast<unsigned char>(c) <= ' ';
}

/// Without the gaps around it.
std::string_view trimmed(std::string_view text);

/// The text without a byte order mark of UTF-8 (Unicode Standard, section 23.8).
std::string_view without_utf8_mark(std::string_view text);

/// "%" and two hexadecimal digits stand for a byte (RFC 3986, section 2.1). One of value 0, which
/// is in no file's name, stays as it is written.
std::string without_escapes(std::string_view uri);

/// ASCII letters made small; extensions of files are compared so.
std::string lower(std::string text);

}  // namespace rakelight
