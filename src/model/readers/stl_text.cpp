// Text STL (3D Systems 1989, "StereoLithography Interface Specification"): solids of facets, each
// with its normal and a loop of three corners. Words are parted by any blanks; of upper and lower
// case neither means anything, though the specification has lower case only (common practice).

#include <algorithm>
#include <string>
#include <vector>

#include "error.hpp"
#include "model/readers/plain_readers.hpp"
#include "model/readers/stl_layout.hpp"
#include "model/readers/text_scan.hpp"
#include "model/repair/point_table.hpp"
#include "scene/words.hpp"

namespace rakelight {
namespace {

constexpr std::size_t released_bytes = 1 << 20;

bool is_same_word(std::string_view word, std::string_view lower_case) {
    return word.size() == lower_case.size() &&
           std::equal(word.begin(), word.end(), lower_case.begin(), [](char a, char b) {
               return a == b || (a >= 'A' && a <= 'Z' && a + 32 == b);
           });
}

// Where a file ends in the middle of a word.
bool begins_word(std::string_view start, std::string_view lower_case) {
    return start.size() <= lower_case.size() &&
           is_same_word(start, lower_case.substr(0, start.size()));
}

// What is not UTF-8 is taken for Latin-1, whose letters have the numbers that Unicode gives them.
std::string name_in_utf8(std::string_view name) {
    if (name.empty()) return "part";
    if (scene_file::valid_utf8_length(name) == name.size()) return std::string(name);
    std::string text;
    for (const char c : name) {
        const auto byte = static_cast<unsigned char>(c);
        if (byte < 0x80) {
            text += c;
        } else {
            text += static_cast<char>(0xC0 | byte >> 6);
            text += static_cast<char>(0x80 | (byte & 0x3F));
        }
    }
    return text;
}

/// The words of a text, one after the other.
class Words {
public:
    explicit Words(std::string_view text) : text_(text) {}

    /// Empty at the end of the text.
    std::string_view next() {
        while (at_ < text_.size() && is_gap(text_[at_])) ++at_;
        const std::size_t first = at_;
        while (at_ < text_.size() && !is_gap(text_[at_])) ++at_;
        return text_.substr(first, at_ - first);
    }

    /// Without the blanks around it.
    std::string_view rest_of_line() {
        const std::string_view line = text_.substr(at_, text_.find_first_of("\r\n", at_) - at_);
        at_ += line.size();
        return trimmed(line);
    }

    std::size_t place() const { return at_; }
    bool at_end() const { return at_ == text_.size(); }

private:
    std::string_view text_;
    std::size_t at_ = 0;
};

class TextStlReader {
public:
    TextStlReader(const MappedFile& file, NormalSource normals)
        : file_(file),
          text_(without_utf8_mark(file.bytes())),
          words_(text_),
          // The normals of an STL are those of its faces, which nobody asks for unless told to.
          with_normals_(normals == NormalSource::file),
          table_(with_normals_ ? 0 : text_.size() / usual_facet_bytes) {}

    Soup read() {
        for (std::string_view word = words_.next(); !word.empty(); word = words_.next()) {
            statement(word);
            release_read();
        }
        end_part();
        check_count(points().size(), triangles());
        if (triangles() == 0) throw Unfamiliar();
        if (in_solid_)
            soup_.facts.warnings.push_back(
                "the file ends without \"endsolid\", after " + std::to_string(facets_) +
                " whole facets; were it cut short there, facets would be missing");
        if (!with_normals_) soup_.positions = std::move(table_.positions);
        return std::move(soup_);
    }

private:
    static constexpr std::size_t usual_facet_bytes = 256;

    std::uint64_t triangles() const { return soup_.indices.size() / 3; }
    const Array<glm::vec3>& points() const {
        return with_normals_ ? soup_.positions : table_.positions;
    }

    [[noreturn]] void refuse_cut() const {
        throw Error(ExitCode::bad_model, "it is cut short: its text ends within facet " +
                                             std::to_string(facets_ + 1) +
                                             "; expected \"endfacet\" and \"endsolid\"; download "
                                             "or export it again");
    }

    void statement(std::string_view word) {
        if (is_same_word(word, "facet")) return read_facet();
        if (is_same_word(word, "solid")) return begin_part();
        if (is_same_word(word, "endsolid")) {
            words_.rest_of_line();
            in_solid_ = false;
        } else if (words_.at_end() && begins_word(word, "endsolid")) {
            in_solid_ = true;
        } else if (words_.at_end() && (begins_word(word, "facet") || begins_word(word, "solid"))) {
            refuse_cut();
        } else {
            throw Unfamiliar();
        }
    }

    void begin_part() {
        end_part();
        part_ = {name_in_utf8(words_.rest_of_line()), "DefaultMaterial",
                 static_cast<std::uint32_t>(triangles()), 0, with_normals_};
        in_solid_ = true;
    }

    void end_part() {
        part_.triangle_count = static_cast<std::uint32_t>(triangles()) - part_.first_triangle;
        if (part_.triangle_count > 0) soup_.parts.push_back(part_);
    }

    void read_facet() {
        std::string_view word = words_.next();
        glm::vec3 normal(0.0f);
        if (is_same_word(word, "normal")) {
            normal = read_vector();
            word = words_.next();
        }
        expect(word, "outer");
        expect(words_.next(), "loop");
        corners_.clear();
        for (word = words_.next(); is_same_word(word, "vertex"); word = words_.next())
            corners_.push_back(read_vector());
        expect(word, "endloop");
        expect(words_.next(), "endfacet");
        if (corners_.size() < 3) throw Unfamiliar();
        ++facets_;
        add_facet(normal);
    }

    void expect(std::string_view word, std::string_view expected) const {
        if (is_same_word(word, expected)) return;
        if (words_.at_end()) refuse_cut();
        throw Unfamiliar();
    }

    glm::vec3 read_vector() {
        glm::vec3 vector;
        for (int k = 0; k < 3; ++k) {
            const std::string_view word = words_.next();
            if (words_.at_end()) refuse_cut();
            TextScan scan(word);
            vector[k] = scan.number();
        }
        return vector;
    }

    // The format has triangles only; what has more corners is convex where it occurs.
    void add_facet(glm::vec3 normal) {
        loop_.clear();
        for (const glm::vec3& corner : corners_) loop_.push_back(number_of(corner + 0.0f, normal));
        for (std::size_t k = 2; k < loop_.size(); ++k)
            for (const std::uint32_t c : {loop_[0], loop_[k - 1], loop_[k]})
                soup_.indices.push_back(c);
    }

    // Corners of one position become one vertex at once, as in a binary file; with normals they
    // differ from facet to facet.
    std::uint32_t number_of(glm::vec3 corner, glm::vec3 normal) {
        if (with_normals_) {
            soup_.positions.push_back(corner);
            soup_.normals.push_back(normal);
            return static_cast<std::uint32_t>(soup_.positions.size() - 1);
        }
        return corner == corner ? table_.number_of(corner, hash_of(corner))
                                : table_.number_apart(corner);
    }

    void release_read() {
        if (words_.place() - released_ < released_bytes) return;
        check_count(points().size(), triangles());
        file_.release(text_.substr(released_, words_.place() - released_));
        released_ = words_.place();
    }

    const MappedFile& file_;
    std::string_view text_;
    Words words_;
    bool with_normals_;
    PointTable table_;
    Soup soup_;
    PartRange part_{"part", "DefaultMaterial"};
    bool in_solid_ = false;
    std::uint64_t facets_ = 0;
    std::size_t released_ = 0;
    std::vector<glm::vec3> corners_;   ///< of the facet that is read
    std::vector<std::uint32_t> loop_;  ///< their numbers
};

}  // namespace

Soup read_text_stl(const MappedFile& file, NormalSource normals) {
    return TextStlReader(file, normals).read();
}

}  // namespace rakelight
