#include "scene/scan.hpp"

#include <algorithm>

#include "scene/words.hpp"

namespace rakelight::scene_file {

namespace {

constexpr std::size_t most_key_parts = 16;

/// Steps over TOML text by characters and delimiters and knows what it stands in.
class Walk {
public:
    enum class In { plain, comment, basic, literal, long_basic, long_literal };

    explicit Walk(std::string_view text) : text_(text), at_(mark_length(text)) {}

    bool done() const { return at_ >= text_.size(); }
    std::size_t at() const { return at_; }
    char current() const { return text_[at_]; }
    In in() const { return in_; }
    /// Open brackets and braces.
    int depth() const { return depth_; }
    bool ends_line() const {
        return current() == '\n' || (current() == '\r' && text_.substr(at_).starts_with("\r\n"));
    }

    void step() {
        switch (in_) {
            case In::plain:
                return step_plain();
            case In::comment:
                if (current() == '\n') in_ = In::plain;
                return take(1);
            case In::basic:
                return step_short('"');
            case In::literal:
                return step_short('\'');
            case In::long_basic:
                return step_long('"');
            case In::long_literal:
                return step_long('\'');
        }
    }

private:
    /// Equal characters from here on.
    std::size_t run_of(char c) const {
        const std::size_t end = text_.find_first_not_of(c, at_);
        return std::min(end, text_.size()) - at_;
    }

    void take(std::size_t count) { at_ = std::min(at_ + count, text_.size()); }

    void step_plain() {
        const char c = current();
        if (c == '#') in_ = In::comment;
        if (c == '[' || c == '{') ++depth_;
        if ((c == ']' || c == '}') && depth_ > 0) --depth_;
        if (c == '"' || c == '\'') return open_string(c);
        take(1);
    }

    void open_string(char quote) {
        const bool is_long = run_of(quote) >= 3;
        const bool basic = quote == '"';
        in_ = is_long ? (basic ? In::long_basic : In::long_literal)
                      : (basic ? In::basic : In::literal);
        take(is_long ? 3 : 1);
    }

    void step_short(char quote) {
        // A string that its line does not close is an error; the parser says so.
        if (current() == quote || current() == '\n') in_ = In::plain;
        take(current() == '\\' && quote == '"' ? 2 : 1);
    }

    void step_long(char quote) {
        if (current() == '\\' && quote == '"') return take(2);
        const std::size_t run = run_of(quote);
        if (run < 3) return take(std::max<std::size_t>(run, 1));
        // Up to two quotes may stand inside, right before the three that close.
        in_ = In::plain;
        take(std::min<std::size_t>(run, 5));
    }

    std::string_view text_;
    std::size_t at_;
    In in_ = In::plain;
    int depth_ = 0;
};

bool is_blank(char c) {
    return c == ' ' || c == '\t' || c == '\r' || c == '\n';
}

/// Counts the parts of a dotted key, whichever of its parts are quoted.
class KeyParts {
public:
    void see(Walk::In in, char c) {
        if (in != Walk::In::plain) return;
        if (c == '.') ++dots_;
        if (std::string_view("=,[]{}#\n").find(c) != std::string_view::npos) dots_ = 0;
    }
    bool too_many() const { return dots_ >= most_key_parts; }

private:
    std::size_t dots_ = 0;
};

TextFault fault_at(std::string_view text, std::size_t offset, std::string found,
                   std::string expected, std::string hint) {
    return {place_of(text, offset), std::move(found), std::move(expected), std::move(hint)};
}

TextFault not_ascii(std::string_view text, std::size_t offset) {
    std::size_t end = offset + 1;
    while (end < text.size() && (static_cast<unsigned char>(text[end]) & 0xc0) == 0x80) ++end;
    return fault_at(text, offset, "the character " + shown(text.substr(offset, end - offset)),
                    "plain keys, numbers and quotes outside of texts",
                    "Quotes must be straight: \" or '.");
}

}  // namespace

std::size_t mark_length(std::string_view text) {
    return text.starts_with("\xef\xbb\xbf") ? 3 : 0;
}

Place place_of(std::string_view text, std::size_t offset) {
    Place place{.line = 1, .column = 1};
    for (std::size_t i = mark_length(text); i < std::min(offset, text.size()); ++i) {
        if (text[i] == '\n') {
            ++place.line;
            place.column = 1;
        } else if ((static_cast<unsigned char>(text[i]) & 0xc0) != 0x80) {
            ++place.column;
        }
    }
    return place;
}

std::vector<Statement> statements(std::string_view text) {
    std::vector<Statement> all;
    Walk walk(text);
    while (!walk.done()) {
        const bool starts =
            walk.in() == Walk::In::plain && !is_blank(walk.current()) && walk.current() != '#';
        if (!starts) {
            walk.step();
            continue;
        }
        Statement statement{.begin = walk.at(), .header = walk.current() == '['};
        const auto inside = [&walk] {
            const bool line_matters =
                walk.in() == Walk::In::plain || walk.in() == Walk::In::comment;
            return !(line_matters && walk.depth() == 0 && walk.ends_line());
        };
        while (!walk.done() && inside()) walk.step();
        statement.end = walk.at();
        all.push_back(statement);
    }
    return all;
}

std::optional<TextFault> first_text_fault(std::string_view text) {
    const std::size_t valid = valid_utf8_length(text);
    KeyParts key;
    for (Walk walk(text.substr(0, valid)); !walk.done(); walk.step()) {
        const bool plain = walk.in() == Walk::In::plain;
        if (plain && static_cast<unsigned char>(walk.current()) >= 0x80) {
            return not_ascii(text, walk.at());
        }
        key.see(walk.in(), walk.current());
        if (key.too_many()) {
            return fault_at(text, walk.at(), "a key of more than 16 parts",
                            "a table or key of a scene", "");
        }
    }
    if (valid == text.size()) return std::nullopt;
    return fault_at(text, valid, "bytes that are not UTF-8", "a text file in UTF-8",
                    "Save the file as UTF-8.");
}

}  // namespace rakelight::scene_file
