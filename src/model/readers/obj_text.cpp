#include "model/readers/obj_text.hpp"

#include <algorithm>
#include <charconv>
#include <cstdint>
#include <cstring>
#include <limits>
#include <system_error>
#include <unordered_set>
#include <utility>

#include "error.hpp"
#include "model/mapped_file.hpp"
#include "model/readers/obj_parts.hpp"
#include "model/readers/text_scan.hpp"
#include "model/readers/utf16.hpp"
#include "printable.hpp"

namespace rakelight {
namespace {

namespace fs = std::filesystem;
using Kind = ObjStatement::Kind;

/// A line without its end.
struct Line {
    std::string_view text;
    std::string_view keyword, rest;
    bool is_part = false;  ///< of a statement that goes over several lines

    std::optional<Kind> kind() const {
        if (is_part) return std::nullopt;
        if (keyword == "o") return Kind::object;
        if (keyword == "g") return Kind::group;
        if (keyword == "usemtl") return Kind::material;
        if (keyword == "mtllib") return Kind::library;
        return std::nullopt;
    }
    bool is_element() const { return keyword == "f" || keyword == "l" || keyword == "p"; }
    bool holds_numbers() const { return is_element() || keyword.starts_with('v'); }
};

/// The lines of a text one after the other. They end in a line feed, a carriage return or both.
class Lines {
public:
    explicit Lines(std::string_view text) : text_(without_utf8_mark(text)) {}

    bool take(Line& line) {
        if (at_ >= text_.size()) return false;
        // Looked for once: a text may have none.
        if (feed_ < at_ || at_ == 0) feed_ = std::min(text_.find('\n', at_), text_.size());
        std::string_view words = text_.substr(at_, feed_ - at_);
        words = words.substr(0, words.find('\r'));
        at_ += words.size() + 1;
        if (at_ == feed_) ++at_;  // both
        line = {words, {}, {}, goes_on_};
        goes_on_ = words.ends_with('\\');
        line.is_part = line.is_part || goes_on_;
        words = trimmed(words);
        line.keyword = words.substr(0, words.find_first_of(" \t"));
        line.rest = trimmed(words.substr(line.keyword.size()));
        return true;
    }

private:
    std::string_view text_;
    std::size_t at_ = 0, feed_ = 0;
    bool goes_on_ = false;
};

/// Calls visit(line) for each line of a text.
template <class Visit>
void for_lines(std::string_view text, const Visit& visit) {
    Lines lines(text);
    for (Line line; lines.take(line);) visit(line);
}

std::string with_slashes(std::string_view name) {
    std::string text(name);
    std::replace(text.begin(), text.end(), '\\', '/');
    return text;
}

/// Where the importer begins an object of its own accord.
class ImporterNames {
public:
    bool begins(Kind kind, std::string_view name) {
        const bool is_known = !objects_.emplace(name).second;
        if (kind == Kind::object) return !is_known;
        return std::exchange(group_, std::string(name)) != name;
    }

private:
    std::unordered_set<std::string> objects_;
    std::string group_;
};

/// Whether the importer would take a line for something else than it is.
class Stumbles {
public:
    bool at(const Line& line) {
        has_elements_ = has_elements_ || line.is_element();
        if (line.holds_numbers()) return line.rest.find('#') != std::string_view::npos;
        const std::optional<Kind> kind = line.kind();
        if (!kind) return false;
        if (line.rest.find('\\') != std::string_view::npos) return true;
        if (kind == Kind::material || kind == Kind::library) return false;
        if (kind == Kind::object && line.rest.empty()) return false;
        const bool is_cut =
            kind == Kind::object && line.rest.find_first_of(" \t") != std::string_view::npos;
        const bool ours = names_.begins(*kind, line.rest);
        const bool theirs = importers_.begins(*kind, line.rest);
        // Without anything since the last one, one more is empty and will not be seen.
        const bool differs = ours != theirs && (ours || has_elements_);
        has_elements_ = has_elements_ && !ours;
        return is_cut || differs;
    }

private:
    ObjNames names_;
    ImporterNames importers_;
    bool has_elements_ = false;
};

std::string mended_line(const Line& line, ObjNames& names) {
    if (line.holds_numbers()) return std::string(line.text.substr(0, line.text.find('#')));
    const std::optional<Kind> kind = line.kind();
    if (!kind) return std::string(line.text);
    if (kind == Kind::material || kind == Kind::library)
        return std::string(line.keyword) + " " + with_slashes(line.rest);
    if (kind == Kind::object && line.rest.empty()) return "#";
    return names.begins(*kind, line.rest) ? "g " + with_slashes(line.rest) : "#";
}

/// Where the importer will look for a library.
fs::path importers_place(const fs::path& model, std::string_view name) {
    return model.parent_path().string() + "/" + std::string(name);
}

void put_libraries_in_place(std::string_view text, const fs::path& file, RecordingIo& io,
                            ObjLibraries& libraries) {
    for_lines(text, [&](const Line& line) {
        if (line.kind() != Kind::library) return;
        const std::string materials = libraries.take(line.rest);
        // As it stands there: the importer does not drop blanks behind a name.
        const auto start = static_cast<std::size_t>(line.rest.data() - line.text.data());
        const std::string_view as_written =
            line.rest.empty() ? std::string_view() : line.text.substr(start);
        for (const std::string& name : {std::string(as_written), with_slashes(line.rest)})
            if (const fs::path place = importers_place(file, name); place != file)
                io.put_in_place(place, materials);
    });
}

void prepare_text(std::string_view text, const fs::path& file, RecordingIo& io,
                  ObjLibraries& libraries) {
    put_libraries_in_place(text, file, io, libraries);
    if (auto mended = mended_obj(text)) io.put_in_place(file, std::move(*mended));
}

/// What is wrong with a number of a corner; empty when nothing is. The importer goes without
/// texture coordinates and normals that are not there.
/// @param before  vertices before this line
/// @param all     of the file
std::string fault_of(std::string_view number, bool is_vertex, std::int64_t before,
                     std::int64_t all) {
    const std::string name(number.substr(0, 20));
    if (number.starts_with('+')) number.remove_prefix(1);
    std::int64_t index = 0;
    const char* end = number.data() + number.size();
    const auto [after, error] = std::from_chars(number.data(), end, index);
    if (error == std::errc::invalid_argument || after != end)
        return "a corner has \"" + name +
               "\" for a number; expected whole ones, such as 3, 3/1 or 3/1/2";
    const bool fits = error == std::errc{};
    if (fits && index == 0) return "a corner has a number 0; expected one from 1";
    if (!is_vertex || (fits && index <= all && index >= -before)) return {};
    if (name.starts_with('-'))
        return "a face names vertex " + name + ", counted back from the " + std::to_string(before) +
               " before it; expected a sound file";
    return "a face names vertex " + name + " of " + std::to_string(all) +
           " (counted from 1); expected a sound file";
}

/// The same of a corner: "3", "3/1", "3/1/2" or "3//2".
std::string fault_of_corner(std::string_view corner, std::int64_t before, std::int64_t all) {
    for (bool is_vertex = true; is_vertex || !corner.empty(); is_vertex = false) {
        const std::string_view number = corner.substr(0, corner.find('/'));
        corner.remove_prefix(std::min(number.size() + 1, corner.size()));
        if (number.empty() && !is_vertex) continue;
        if (std::string fault = fault_of(number, is_vertex, before, all); !fault.empty())
            return fault;
    }
    return {};
}

std::string fault_of_line(const Line& line, std::int64_t before, std::int64_t all) {
    std::string_view rest = line.rest.substr(0, line.rest.find('#'));
    while (!(rest = trimmed(rest)).empty()) {
        const std::size_t size = std::min(rest.find_first_of(" \t\\"), rest.size());
        if (std::string fault = fault_of_corner(rest.substr(0, size), before, all); !fault.empty())
            return fault;
        rest.remove_prefix(std::min(size + 1, rest.size()));
    }
    return {};
}

}  // namespace

std::optional<std::string> mended_obj(std::string_view text) {
    Stumbles stumbles;
    bool any = false;
    for_lines(text, [&](const Line& line) { any = any || stumbles.at(line); });
    if (!any) return std::nullopt;
    std::string mended;
    mended.reserve(text.size() + 1);
    ObjNames names;
    for_lines(text, [&](const Line& line) { mended += mended_line(line, names) + "\n"; });
    return mended;
}

ObjLibraries prepare_obj(const fs::path& file, RecordingIo& io) {
    ObjLibraries libraries(file, io);
    if (lower(file.extension().string()) != ".obj") return libraries;
    try {
        const MappedFile mapped(file);
        if (begins_utf16(mapped.bytes().substr(0, 514)))
            prepare_text(io.start_of(file, std::numeric_limits<std::size_t>::max()), file, io,
                         libraries);
        else
            prepare_text(mapped.bytes(), file, io, libraries);
    } catch (const std::system_error&) {
        // The importer will say why it cannot be read.
    }
    return libraries;
}

void refuse_bad_corner(std::string_view text) {
    std::int64_t all = 0, before = 0, number = 0;
    for_lines(text, [&](const Line& line) { all += line.keyword == "v"; });
    for_lines(text, [&](const Line& line) {
        ++number;
        before += line.keyword == "v";
        if (line.is_part || !line.is_element()) return;
        const std::string fault = fault_of_line(line, before, all);
        if (fault.empty()) return;
        throw Error(ExitCode::bad_model, "line " + std::to_string(number) + ": " +
                                             printable(fault) + "; export the model again");
    });
}

}  // namespace rakelight
