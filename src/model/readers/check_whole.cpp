#include "model/readers/check_whole.hpp"

#include <charconv>
#include <cstdint>
#include <optional>
#include <string>
#include <system_error>

#include "error.hpp"
#include "model/mapped_file.hpp"
#include "model/readers/plain_readers.hpp"
#include "model/readers/text_scan.hpp"
#include "model/readers/utf16.hpp"

namespace rakelight {
namespace {

[[noreturn]] void refuse_cut(const std::string& found) {
    throw Error(ExitCode::bad_model, "it is cut short: " + found + "; download or export it again");
}

/// Lines without the blanks around them.
class Lines {
public:
    explicit Lines(std::string_view text) : text_(text) {}

    /// Nothing at the end of the text.
    std::optional<std::string_view> next() {
        if (text_.empty()) return std::nullopt;
        const std::size_t end = text_.find_first_of("\r\n");
        const std::string_view line = text_.substr(0, end);
        const bool two = text_.substr(line.size()).starts_with("\r\n");
        text_.remove_prefix(end == std::string_view::npos ? text_.size()
                                                          : line.size() + (two ? 2 : 1));
        return trimmed(line);
    }

    /// Neither blank nor a comment.
    std::optional<std::string_view> next_with_data() {
        for (auto line = next(); line; line = next()) {
            const std::string_view data = trimmed(line->substr(0, line->find('#')));
            if (!data.empty()) return data;
        }
        return std::nullopt;
    }

private:
    std::string_view text_;
};

// ---------------------------------------------------------------------------- OFF

// Object File Format (from memory): "[ST][C][N][4][n]OFF", of which
// the last line may be the first one too; then how many vertices, faces and edges; a line for each
// vertex; a line for each face: how many corners, their vertices, a colour.
struct OffCounts {
    std::uint64_t vertices = 0, faces = 0;
};

std::uint64_t read_count(TextScan& scan) {
    scan.skip_blanks();
    const std::string_view word = scan.word();
    std::uint64_t count = 0;
    const auto [end, error] = std::from_chars(word.data(), word.data() + word.size(), count);
    if (error != std::errc{} || end != word.data() + word.size()) throw Unfamiliar();
    return count;
}

OffCounts read_off_head(Lines& lines) {
    std::optional<std::string_view> line = lines.next_with_data();
    const std::size_t keyword = line ? line->find("OFF") : std::string_view::npos;
    if (!line ||
        (keyword != std::string_view::npos && line->substr(0, keyword).find('n') < keyword))
        throw Unfamiliar();  // of any number of dimensions
    if (keyword != std::string_view::npos) line = trimmed(line->substr(keyword + 3));
    if (line->empty()) line = lines.next_with_data();
    if (!line) throw Unfamiliar();
    TextScan scan(*line);
    OffCounts counts;
    counts.vertices = read_count(scan);
    counts.faces = read_count(scan);
    return counts;
}

[[noreturn]] void refuse_cut_off(OffCounts promised, OffCounts found) {
    refuse_cut("its head promises " + std::to_string(promised.vertices) + " vertices and " +
               std::to_string(promised.faces) +
               " faces, each on a line of its own, and it ends "
               "after " +
               std::to_string(found.vertices) + " and " + std::to_string(found.faces));
}

// Whether all corners are there.
bool check_off_face(std::string_view line, std::uint64_t vertices) {
    TextScan scan(line);
    for (std::uint64_t left = read_count(scan); left > 0; --left) {
        scan.skip_blanks();
        if (scan.at_end()) return false;
        const std::int64_t corner = scan.integer();
        if (!scan.at_word_end()) throw Unfamiliar();
        if (corner < 0 || static_cast<std::uint64_t>(corner) >= vertices)
            refuse_index(corner, vertices, 0);
    }
    return true;
}

void check_off_lines(Lines& lines, OffCounts promised) {
    OffCounts found;
    for (; found.vertices < promised.vertices; ++found.vertices)
        if (!lines.next_with_data()) refuse_cut_off(promised, found);
    for (; found.faces < promised.faces; ++found.faces) {
        const auto line = lines.next_with_data();
        if (!line || !check_off_face(*line, promised.vertices)) refuse_cut_off(promised, found);
    }
}

}  // namespace

void check_whole_off(std::string_view text) {
    try {
        Lines lines(text);
        check_off_lines(lines, read_off_head(lines));
    } catch (const Unfamiliar&) {
        // The importer may know more.
    }
}

// DXF reference, "General DXF File Structure" (from memory): pairs of lines, a group code and its
// value; 0 SECTION, 2 and its name, what is in it, 0 ENDSEC; at the end 0 EOF.
void check_whole_dxf(std::string_view text) {
    Lines lines(text);
    bool in_section = false, named = false;
    std::string section;
    for (auto code = lines.next(); code; code = lines.next()) {
        const auto value = lines.next();
        if (!value || code->empty()) break;
        if (code->find_first_not_of("-0123456789") != std::string_view::npos) return;
        if (in_section && !named && *code == "2") {
            section = value->substr(0, 20);
            named = true;
        }
        if (*code != "0") continue;
        if (*value == "EOF") return;
        if (*value == "SECTION") named = false;
        if (*value == "SECTION" || *value == "ENDSEC") in_section = *value == "SECTION";
    }
    if (in_section)
        refuse_cut("it ends within its section " + section + ", without ENDSEC and EOF");
}

void check_whole(const std::filesystem::path& file) {
    const std::string extension = lower(file.extension().string());
    if (extension != ".off" && extension != ".dxf") return;
    try {
        const MappedFile mapped(file);
        if (begins_utf16(mapped.bytes().substr(0, 514))) return;
        extension == ".off" ? check_whole_off(mapped.bytes()) : check_whole_dxf(mapped.bytes());
    } catch (const std::system_error&) {
        // The importer will say why.
    }
}

}  // namespace rakelight
