// PLY, text and binary (G. Turk 1994, "The PLY Polygon File Format"): elements in the header's
// order, each of its properties. Vertices, faces and strips of triangles are taken, other elements
// passed over. Strips are what scan archives keep in place of faces: one list or several, -1 ends a
// strip within a list (from memory).

#include <algorithm>
#include <array>
#include <atomic>
#include <bit>
#include <cstring>
#include <limits>

#include "error.hpp"
#include "model/parallel.hpp"
#include "model/readers/plain_readers.hpp"
#include "model/readers/ply_header.hpp"
#include "model/readers/polygons.hpp"
#include "model/readers/text_scan.hpp"

namespace rakelight {
namespace {

static_assert(std::endian::native == std::endian::little, "swaps are for big-endian files");

[[noreturn]] void refuse_cut(const std::string& promised, const std::string& found) {
    throw Error(ExitCode::bad_model, "it is cut short: its header promises " + promised + ", " +
                                         found + "; download or export it again");
}

std::string counted(const PlyElement& element) {
    return std::to_string(element.count) + " of element \"" + element.name + "\"";
}

/// An element with lists of corners.
struct Lists {
    std::size_t element = 0;
    std::size_t corners = 0;  ///< place among its properties
    bool are_strips = false;

    /// @param corners  of one list, numbered from 0, what is negative as in two's complement
    template <class CornerAt>
    void take(std::uint64_t count, Polygons& polygons, const CornerAt& corner_at) const {
        StripTriangles strips;
        for (std::uint64_t i = 0; i < count; ++i) {
            const std::uint32_t corner = corner_at(i);
            are_strips ? strips.add(corner, polygons) : polygons.corners.push_back(corner);
        }
        if (!are_strips) polygons.end_polygon(static_cast<std::uint32_t>(count));
    }
};

/// What is taken from the elements, as places among their properties.
struct Wanted {
    std::size_t vertex_element = 0;
    std::vector<Lists> lists;  ///< of faces, of strips, or of both
    std::array<std::size_t, 3> position{};
    std::optional<std::array<std::size_t, 3>> normal;

    const Lists* lists_of(std::size_t element) const {
        const auto found = std::find_if(lists.begin(), lists.end(),
                                        [&](const Lists& l) { return l.element == element; });
        return found == lists.end() ? nullptr : &*found;
    }
};

/// The element of that name; none, or none of it: nothing.
std::optional<std::size_t> find_element(const PlyHeader& header, std::string_view name) {
    std::optional<std::size_t> found;
    for (std::size_t i = 0; i < header.elements.size(); ++i) {
        if (header.elements[i].name != name) continue;
        if (found) throw Unfamiliar();
        found = i;
    }
    if (found && header.elements[*found].count == 0) return std::nullopt;
    return found;
}

std::optional<std::array<std::size_t, 3>> find_vector(const PlyElement& element,
                                                      std::array<std::string_view, 3> names) {
    std::array<std::size_t, 3> places{};
    std::size_t found = 0;
    for (std::size_t k = 0; k < 3; ++k) {
        const auto place = element.find(names[k]);
        found += place.has_value();
        places[k] = place.value_or(0);
    }
    if (found == 0) return std::nullopt;
    if (found < 3) throw Unfamiliar();
    return places;
}

std::size_t find_corners(const PlyElement& element) {
    auto corners = element.find("vertex_indices");
    if (!corners) corners = element.find("vertex_index");
    if (!corners || !element.properties[*corners].count_type ||
        element.properties[*corners].type >= PlyType::float32)
        throw Unfamiliar();
    return *corners;
}

Wanted find_wanted(const PlyHeader& header, NormalSource normals) {
    Wanted wanted;
    for (const PlyElement& element : header.elements)
        if (element.name == "material" || element.properties.empty()) throw Unfamiliar();
    const auto vertices = find_element(header, "vertex");
    for (const bool strips : {false, true})
        if (const auto element = find_element(header, strips ? "tristrips" : "face"))
            wanted.lists.push_back({*element, find_corners(header.elements[*element]), strips});
    if (!vertices || wanted.lists.empty()) throw Unfamiliar();
    wanted.vertex_element = *vertices;
    const PlyElement& vertex = header.elements[wanted.vertex_element];
    const auto position = find_vector(vertex, {"x", "y", "z"});
    if (vertex.has_list() || !position) throw Unfamiliar();
    wanted.position = *position;
    if (normals != NormalSource::made) wanted.normal = find_vector(vertex, {"nx", "ny", "nz"});
    return wanted;
}

void make_room(const PlyElement& vertex, const Wanted& wanted, Soup& soup) {
    soup.positions.resize(vertex.count);
    if (wanted.normal) soup.normals.resize(vertex.count);
}

// ---------------------------------------------------------------------------- binary

template <class T>
T load(const char* from, bool swapped) {
    std::array<char, sizeof(T)> bytes;
    std::memcpy(bytes.data(), from, sizeof(T));
    if (swapped) std::reverse(bytes.begin(), bytes.end());
    return std::bit_cast<T>(bytes);
}

float load_float(const char* from, PlyType type, bool swapped) {
    switch (type) {
        case PlyType::int8:
            return load<std::int8_t>(from, swapped);
        case PlyType::uint8:
            return load<std::uint8_t>(from, swapped);
        case PlyType::int16:
            return load<std::int16_t>(from, swapped);
        case PlyType::uint16:
            return load<std::uint16_t>(from, swapped);
        case PlyType::int32:
            return static_cast<float>(load<std::int32_t>(from, swapped));
        case PlyType::uint32:
            return static_cast<float>(load<std::uint32_t>(from, swapped));
        case PlyType::float32:
            return load<float>(from, swapped);
        default:
            return static_cast<float>(load<double>(from, swapped));
    }
}

// A negative number comes out as a very large one, which no file can hold.
std::uint32_t load_index(const char* from, PlyType type, bool swapped) {
    switch (type) {
        case PlyType::int8:
            return static_cast<std::uint32_t>(load<std::int8_t>(from, swapped));
        case PlyType::uint8:
            return load<std::uint8_t>(from, swapped);
        case PlyType::int16:
            return static_cast<std::uint32_t>(load<std::int16_t>(from, swapped));
        case PlyType::uint16:
            return load<std::uint16_t>(from, swapped);
        default:
            return load<std::uint32_t>(from, swapped);
    }
}

class BinaryBody {
public:
    BinaryBody(const PlyHeader& header, const MappedFile& file)
        : file_(file),
          rest_(file.bytes().substr(header.bytes)),
          swapped_(header.format == PlyFormat::big_endian) {}

    void read_vertices(const PlyElement& vertex, const Wanted& wanted, Soup& soup) {
        const std::size_t stride = vertex.scalar_bytes();
        if (vertex.count > rest_.size() / stride) refuse_cut(vertex, rest_.size() / stride);
        make_room(vertex, wanted, soup);
        read_vectors(vertex, wanted.position, stride, soup.positions);
        if (wanted.normal) read_vectors(vertex, *wanted.normal, stride, soup.normals);
        const std::string_view done = rest_.substr(0, vertex.count * stride);
        rest_.remove_prefix(done.size());
        file_.release(done);
    }

    void read_lists(const PlyElement& element, const Lists& lists, Polygons& polygons) {
        const std::uint64_t least = element.scalar_bytes() + 1;  // with lists of nothing
        if (element.count > rest_.size() / least) refuse_cut(element, rest_.size() / least);
        if (!lists.are_strips && read_triangles(element, lists.corners, polygons)) return;
        polygons = {};
        for (std::uint64_t i = 0; i < element.count; ++i) read_row(element, i, &lists, polygons);
    }

    void skip(const PlyElement& element) {
        if (!element.has_list()) {
            const std::size_t stride = element.scalar_bytes();
            if (element.count > rest_.size() / stride) refuse_cut(element, rest_.size() / stride);
            rest_.remove_prefix(element.count * stride);
            return;
        }
        Polygons none;
        for (std::uint64_t i = 0; i < element.count; ++i) read_row(element, i, nullptr, none);
    }

private:
    [[noreturn]] static void refuse_cut(const PlyElement& element, std::uint64_t whole) {
        rakelight::refuse_cut(counted(element), "it ends after " + std::to_string(whole));
    }

    void read_vectors(const PlyElement& vertex, const std::array<std::size_t, 3>& places,
                      std::size_t stride, Array<glm::vec3>& vectors) const {
        std::array<std::size_t, 3> offsets{};
        std::array<PlyType, 3> types{};
        for (std::size_t k = 0; k < 3; ++k) {
            types[k] = vertex.properties[places[k]].type;
            for (std::size_t p = 0; p < places[k]; ++p)
                offsets[k] += size_of(vertex.properties[p].type);
        }
        const bool plain = !swapped_ && offsets[1] == offsets[0] + 4 &&
                           offsets[2] == offsets[0] + 8 && types[0] == PlyType::float32 &&
                           types[1] == PlyType::float32 && types[2] == PlyType::float32;
        parallel_chunks(vertex.count, 1 << 15, [&](auto, std::size_t i, std::size_t last) {
            for (; i < last; ++i) {
                const char* row = rest_.data() + i * stride;
                if (plain)
                    std::memcpy(&vectors[i], row + offsets[0], 12);
                else
                    for (std::size_t k = 0; k < 3; ++k)
                        vectors[i][static_cast<int>(k)] =
                            load_float(row + offsets[k], types[k], swapped_);
            }
        });
    }

    // Where all faces are triangles with nothing else in lists, each row has the same length, and
    // threads share the work. False when that is not so.
    bool read_triangles(const PlyElement& face, std::size_t place, Polygons& polygons) {
        std::size_t before = 0;
        for (std::size_t p = 0; p < face.properties.size(); ++p) {
            if (p != place && face.properties[p].count_type) return false;
            if (p < place) before += size_of(face.properties[p].type);
        }
        const PlyType count_type = *face.properties[place].count_type;
        const PlyType type = face.properties[place].type;
        const std::size_t skipped = before + size_of(count_type), item = size_of(type);
        const std::size_t stride = face.scalar_bytes() + size_of(count_type) + 3 * item;
        if (face.count > rest_.size() / stride) return false;
        polygons.corners.resize(3 * face.count);
        polygons.runs = {{3, static_cast<std::uint32_t>(face.count)}};
        std::atomic<bool> all_triangles{true};
        parallel_chunks(face.count, 1 << 15, [&](auto, std::size_t i, std::size_t last) {
            const std::string_view rows = rest_.substr(i * stride, (last - i) * stride);
            for (; i < last; ++i) {
                const char* row = rest_.data() + i * stride;
                if (load_index(row + before, count_type, swapped_) != 3) {
                    all_triangles = false;
                    return;
                }
                for (std::size_t k = 0; k < 3; ++k)
                    polygons.corners[3 * i + k] =
                        load_index(row + skipped + k * item, type, swapped_);
            }
            file_.release(rows);
        });
        if (all_triangles) rest_.remove_prefix(face.count * stride);
        return all_triangles;
    }

    // @param lists  says what `polygons` takes; null: nothing
    void read_row(const PlyElement& element, std::uint64_t number, const Lists* lists,
                  Polygons& polygons) {
        for (std::size_t p = 0; p < element.properties.size(); ++p) {
            const PlyProperty& property = element.properties[p];
            const std::size_t item = size_of(property.type);
            std::uint64_t count = 1;
            if (property.count_type) {
                const char* from = take(size_of(*property.count_type), element, number);
                count = load_index(from, *property.count_type, swapped_);
            }
            const char* from = take(count * item, element, number);
            if (lists == nullptr || p != lists->corners) continue;
            lists->take(count, polygons, [&](std::uint64_t i) {
                return load_index(from + i * item, property.type, swapped_);
            });
        }
    }

    const char* take(std::uint64_t bytes, const PlyElement& element, std::uint64_t number) {
        if (bytes > rest_.size()) refuse_cut(element, number);
        const char* from = rest_.data();
        rest_.remove_prefix(bytes);
        return from;
    }

    const MappedFile& file_;
    std::string_view rest_;
    bool swapped_;
};

std::vector<Polygons> read_binary(const PlyHeader& header, const Wanted& wanted,
                                  const MappedFile& file, Soup& soup) {
    BinaryBody body(header, file);
    std::vector<Polygons> lists(wanted.lists.size());
    for (std::size_t e = 0; e < header.elements.size(); ++e) {
        const PlyElement& element = header.elements[e];
        if (e == wanted.vertex_element)
            body.read_vertices(element, wanted, soup);
        else if (const Lists* taken = wanted.lists_of(e))
            body.read_lists(element, *taken,
                            lists[static_cast<std::size_t>(taken - wanted.lists.data())]);
        else
            body.skip(element);
    }
    return lists;
}

// ---------------------------------------------------------------------------- text

/// A run of lines, and which lines of the body they are; blank ones do not count.
struct TextChunk {
    std::string_view text;
    std::uint64_t rows = 0, first_row = 0;
    Polygons polygons;
    enum class Fault : std::uint8_t { none, unfamiliar, ends } fault = Fault::none;
};

bool is_blank_line(const TextScan& scan) {
    TextScan copy = scan;
    while (copy.take(' ') || copy.take('\t')) {
    }
    return copy.take_line_end();
}

void count_rows(TextChunk& chunk) {
    TextScan scan(chunk.text);
    while (!scan.at_end()) {
        chunk.rows += !is_blank_line(scan);
        scan.skip_line();
    }
}

class TextRows {
public:
    TextRows(const PlyHeader& header, const Wanted& wanted, Soup& soup)
        : wanted_(wanted),
          vertex_(header.elements[wanted.vertex_element]),
          soup_(soup),
          slots_(vertex_.properties.size(), -1) {
        for (std::size_t i = 0; i < header.elements.size(); ++i) {
            if (i == wanted.vertex_element) first_vertex_ = rows_;
            if (const Lists* lists = wanted.lists_of(i))
                list_rows_.push_back({rows_, &header.elements[i], lists});
            if (header.elements[i].count > std::numeric_limits<std::uint32_t>::max())
                throw Unfamiliar();
            rows_ += header.elements[i].count;
        }
        for (std::size_t k = 0; k < 3; ++k) {
            if (wanted.normal) slots_[(*wanted.normal)[k]] = static_cast<int>(3 + k);
            slots_[wanted.position[k]] = static_cast<int>(k);
        }
    }

    std::uint64_t rows() const { return rows_; }

    void read(TextChunk& chunk) const {
        TextScan scan(chunk.text);
        try {
            for (std::uint64_t row = chunk.first_row; row < rows_ && !scan.at_end();) {
                if (is_blank_line(scan)) {
                    scan.skip_line();
                    continue;
                }
                read_row(scan, row++, chunk.polygons);
            }
        } catch (const Unfamiliar&) {
            chunk.fault = scan.at_end() ? TextChunk::Fault::ends : TextChunk::Fault::unfamiliar;
        }
    }

private:
    void read_row(TextScan& scan, std::uint64_t row, Polygons& polygons) const {
        if (row - first_vertex_ < vertex_.count)
            read_vertex(scan, row - first_vertex_);
        else if (const auto found = std::find_if(
                     list_rows_.begin(), list_rows_.end(),
                     [&](const ListRows& l) { return row - l.first < l.element->count; });
                 found != list_rows_.end())
            read_lists(scan, *found, polygons);
        else
            return scan.skip_line();
        scan.skip_blanks();
        if (!scan.take_line_end()) throw Unfamiliar();
    }

    void read_vertex(TextScan& scan, std::uint64_t vertex) const {
        for (const int slot : slots_) {
            if (slot < 0)
                skip_word(scan);
            else if (slot < 3)
                soup_.positions[vertex][slot] = scan.number();
            else
                soup_.normals[vertex][slot - 3] = scan.number();
        }
    }

    /// Where the rows of an element with lists begin.
    struct ListRows {
        std::uint64_t first;
        const PlyElement* element;
        const Lists* lists;
    };

    static void read_lists(TextScan& scan, const ListRows& rows, Polygons& polygons) {
        for (std::size_t p = 0; p < rows.element->properties.size(); ++p) {
            std::int64_t count = 1;
            if (rows.element->properties[p].count_type) {
                scan.skip_blanks();
                count = scan.integer();
                if (count < 0 || count > std::numeric_limits<std::uint32_t>::max() ||
                    !scan.at_word_end())
                    throw Unfamiliar();
            }
            if (p != rows.lists->corners) {
                for (; count > 0; --count) skip_word(scan);
                continue;
            }
            rows.lists->take(static_cast<std::uint64_t>(count), polygons,
                             [&](std::uint64_t) { return read_corner(scan); });
        }
    }

    static std::uint32_t read_corner(TextScan& scan) {
        scan.skip_blanks();
        const std::int64_t corner = scan.integer();
        if (!scan.at_word_end()) throw Unfamiliar();
        constexpr std::int64_t least = std::numeric_limits<std::int32_t>::min(),
                               most = std::numeric_limits<std::uint32_t>::max();
        return static_cast<std::uint32_t>(std::clamp(corner, least, most));
    }

    static void skip_word(TextScan& scan) {
        scan.skip_blanks();
        if (scan.word().empty()) throw Unfamiliar();
    }

    const Wanted& wanted_;
    const PlyElement& vertex_;
    std::vector<ListRows> list_rows_;
    Soup& soup_;
    std::vector<int>
        slots_;  // per property of a vertex: 0 to 2 position, 3 to 5 normal, -1 neither
    std::uint64_t first_vertex_ = 0, rows_ = 0;
};

std::vector<Polygons> read_text(const PlyHeader& header, const Wanted& wanted,
                                const MappedFile& file, Soup& soup) {
    std::vector<TextChunk> chunks;
    for (const std::string_view run : cut_at_lines(file.bytes().substr(header.bytes), 1 << 20))
        chunks.emplace_back().text = run;
    parallel_chunks(chunks.size(), 1, [&](std::size_t i, auto, auto) {
        count_rows(chunks[i]);
        file.release(chunks[i].text);
    });
    std::uint64_t found = 0;
    for (TextChunk& chunk : chunks) {
        chunk.first_row = found;
        found += chunk.rows;
    }
    const TextRows rows(header, wanted, soup);
    const std::string promised = std::to_string(rows.rows()) + " lines of data";
    if (found < rows.rows()) refuse_cut(promised, "it has " + std::to_string(found));
    make_room(header.elements[wanted.vertex_element], wanted, soup);
    parallel_chunks(chunks.size(), 1, [&](std::size_t i, auto, auto) {
        rows.read(chunks[i]);
        file.release(chunks[i].text);
    });
    std::vector<Polygons> lists;
    for (TextChunk& chunk : chunks) {
        if (chunk.fault == TextChunk::Fault::ends && &chunk == &chunks.back())
            refuse_cut(promised, "it ends within a line");
        if (chunk.fault != TextChunk::Fault::none) throw Unfamiliar();
        lists.push_back(std::move(chunk.polygons));
    }
    return lists;
}

bool is_signed(const PlyHeader& header, const Wanted& wanted) {
    return std::all_of(wanted.lists.begin(), wanted.lists.end(), [&](const Lists& lists) {
        const PlyType type = header.elements[lists.element].properties[lists.corners].type;
        return type == PlyType::int8 || type == PlyType::int16 || type == PlyType::int32;
    });
}

Soup read_known(const PlyHeader& header, const MappedFile& file, NormalSource normals) {
    const Wanted wanted = find_wanted(header, normals);
    const std::uint64_t vertices = header.elements[wanted.vertex_element].count;
    check_count(vertices, 0);
    for (const Lists& list : wanted.lists)
        if (header.elements[list.element].count > std::numeric_limits<std::uint32_t>::max())
            throw Unfamiliar();
    Soup soup;
    std::vector<Polygons> lists = header.format == PlyFormat::ascii
                                      ? read_text(header, wanted, file, soup)
                                      : read_binary(header, wanted, file, soup);
    check_and_cut(lists, soup.positions, {0, is_signed(header, wanted)}, soup.facts);
    soup.indices = join_corners(lists);
    soup.parts = {{"part", "", 0, static_cast<std::uint32_t>(soup.indices.size() / 3),
                   wanted.normal.has_value()}};
    return soup;
}

}  // namespace

Soup read_ply(const MappedFile& file, NormalSource normals) {
    const PlyHeader header = read_ply_header(file.bytes());
    try {
        return read_known(header, file, normals);
    } catch (const Unfamiliar&) {
        if (!header.has_strips()) throw;
    }
    // The importer would make one triangle of all strips.
    throw Error(ExitCode::bad_model,
                "its triangle strips (element \"tristrips\") are not in the usual form; expected "
                "vertices with x, y and z, and a list \"vertex_indices\" of whole numbers, in text "
                "one line for each; export the model with faces");
}

}  // namespace rakelight
