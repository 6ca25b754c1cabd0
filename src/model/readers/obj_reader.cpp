// OBJ: lines of text, each a keyword and its arguments (appendix B1 of the Advanced Visualizer
// manual). Vertices, normals, polygons and what names them are taken; curves and surfaces are left
// to the importer.

#include <cctype>

#include "error.hpp"
#include "model/parallel.hpp"
#include "model/readers/obj_libraries.hpp"
#include "model/readers/obj_parts.hpp"
#include "model/readers/obj_text.hpp"
#include "model/readers/plain_readers.hpp"
#include "model/readers/polygons.hpp"
#include "model/readers/text_scan.hpp"
#include "model/repair/absent_normal.hpp"

namespace rakelight {
namespace {

struct Counts {
    std::uint64_t vertices = 0, texcoords = 0, normals = 0;
};

/// A run of lines. What is in it is counted first, so that then every thread knows where its
/// vertices go and what a relative index means.
struct Chunk {
    std::string_view text;
    Counts before, own;
    Polygons polygons;
    std::uint64_t elements = 0, triangles = 0;  // as in ObjStatement, of this chunk
    std::uint64_t loose = 0;                    // lines and points
    std::vector<ObjStatement> statements;
};

void count(Chunk& chunk) {
    TextScan scan(chunk.text);
    while (!scan.at_end()) {
        scan.skip_blanks();
        const std::string_view word = scan.word();
        chunk.own.vertices += word == "v";
        chunk.own.texcoords += word == "vt";
        chunk.own.normals += word == "vn";
        scan.skip_line();
    }
}

bool is_ignored(std::string_view word) {
    // Comments; texture coordinates; smoothing and merging groups; display attributes.
    return word.starts_with('#') || word == "vt" || word == "vp" || word == "s" || word == "mg" ||
           word == "bevel" || word == "c_interp" || word == "d_interp" || word == "lod" ||
           word == "shadow_obj" || word == "trace_obj" || word == "usemap" || word == "maplib";
}

class ChunkReader {
public:
    /// @param soup  with room for all vertices, and for all normals if they are wanted
    ChunkReader(Chunk& chunk, Soup& soup) : chunk_(chunk), soup_(soup), scan_(chunk.text) {}

    void read() {
        while (!scan_.at_end()) {
            scan_.skip_blanks();
            if (!scan_.take_line_end()) read_line(scan_.word());
        }
    }

private:
    void read_line(std::string_view word) {
        if (word == "v") return read_vertex();
        if (word == "f") return read_face();
        if (word == "vn") return read_normal();
        if (is_ignored(word)) return scan_.skip_line();
        if (word == "l" || word == "p") return read_loose(word == "l");
        using Kind = ObjStatement::Kind;
        if (word == "usemtl") return take_statement(Kind::material, scan_.rest_of_line());
        if (word == "g") return take_statement(Kind::group, scan_.rest_of_line());
        if (word == "mtllib") return take_statement(Kind::library, scan_.rest_of_line());
        if (word != "o") throw Unfamiliar();
        take_statement(Kind::object, scan_.rest_of_line());
    }

    /// Whether nothing but a comment stands on the rest of the line, which is passed over then.
    bool line_ends() {
        scan_.skip_blanks();
        if (scan_.take_line_end()) return true;
        if (!scan_.take('#')) return false;
        scan_.skip_line();
        return true;
    }

    glm::vec3 vector() {
        glm::vec3 v;
        for (int k = 0; k < 3; ++k) v[k] = scan_.number();
        return v;
    }

    void read_vertex() {
        glm::vec3 v = vector();
        if (!line_ends()) {
            // A fourth number is a weight; three or four are a colour.
            const float fourth = scan_.number();
            int more = 1;
            for (; !line_ends(); ++more) scan_.number();
            if (more == 2 || more > 4 || (more == 1 && fourth == 0.0f)) throw Unfamiliar();
            if (more == 1) v /= fourth;
        }
        soup_.positions[chunk_.before.vertices + seen_.vertices++] = v;
    }

    void read_normal() {
        const glm::vec3 v = vector();
        if (!line_ends()) throw Unfamiliar();
        if (!soup_.normals.empty()) soup_.normals[chunk_.before.normals + seen_.normals] = v;
        ++seen_.normals;
    }

    void read_face() {
        std::uint32_t size = 0, normals = 0;
        for (; !line_ends(); ++size) normals += read_corner();
        if (size == 0) return;
        if (normals != 0 && normals != size) throw Unfamiliar();
        chunk_.polygons.end_polygon(size);
        ++chunk_.elements;
        if (size > 2) chunk_.triangles += size - 2;
    }

    // Whether it has a normal. "3", "3/1", "3/1/2" or "3//2"
    bool read_corner() {
        const std::uint32_t vertex =
            absolute(scan_.integer(), chunk_.before.vertices + seen_.vertices);
        bool has_normal = false;
        std::uint32_t normal = no_index;
        if (scan_.take('/')) {
            const bool has_texcoord = !scan_.take('/');
            if (has_texcoord) scan_.integer();
            has_normal = !has_texcoord || scan_.take('/');
            // Where there are no texture coordinates, the importer takes their place for a normal.
            if (has_texcoord && !has_normal && chunk_.before.texcoords + chunk_.own.texcoords == 0)
                throw Unfamiliar();
            if (has_normal)
                normal = absolute(scan_.integer(), chunk_.before.normals + seen_.normals);
        }
        if (!scan_.at_word_end()) throw Unfamiliar();
        chunk_.polygons.corners.push_back(vertex);
        if (!soup_.normals.empty()) chunk_.polygons.normals.push_back(normal);
        return has_normal;
    }

    // Indices count from 1, or backwards from the last of those before this line, which is -1.
    static std::uint32_t absolute(std::int64_t index, std::uint64_t before) {
        const std::int64_t from_0 =
            index > 0 ? index - 1 : static_cast<std::int64_t>(before) + index;
        if (index == 0 || from_0 < 0 || from_0 >= std::int64_t{no_index}) throw Unfamiliar();
        return static_cast<std::uint32_t>(from_0);
    }

    void read_loose(bool is_line) {
        std::uint64_t words = 0;
        for (; !line_ends(); ++words)
            if (scan_.word().empty()) throw Unfamiliar();
        if (words == 0) return;
        ++chunk_.elements;
        chunk_.loose += is_line ? words - 1 : words;
    }

    void take_statement(ObjStatement::Kind kind, std::string_view name) {
        chunk_.statements.push_back({kind, name, chunk_.elements, chunk_.triangles});
    }

    Chunk& chunk_;
    Soup& soup_;
    TextScan scan_;
    Counts seen_;
};

std::vector<Chunk> count_all(const MappedFile& file, std::string_view text) {
    std::vector<Chunk> chunks;
    for (const std::string_view run : cut_at_lines(text, 1 << 20)) chunks.emplace_back().text = run;
    parallel_chunks(chunks.size(), 1, [&](std::size_t i, auto, auto) {
        count(chunks[i]);
        file.release(chunks[i].text);
    });
    Counts sum;
    for (Chunk& chunk : chunks) {
        chunk.before = sum;
        sum.vertices += chunk.own.vertices;
        sum.texcoords += chunk.own.texcoords;
        sum.normals += chunk.own.normals;
    }
    return chunks;
}

/// Vertices whose corners have different normals become several. For every vertex those that came
/// of it are chained, each with its normal.
class VertexSplitter {
public:
    explicit VertexSplitter(Soup& soup)
        : soup_(soup), file_normals_(std::move(soup.normals)), normal_of_(soup.positions.size()) {
        std::fill(normal_of_.begin(), normal_of_.end(), unused);
        next_.assign(soup.positions.size(), no_index);
    }

    std::uint32_t vertex_for(std::uint32_t vertex, std::uint32_t normal) {
        if (normal_of_[vertex] == unused) normal_of_[vertex] = normal;
        // Some are split for every face; a search of all that came before would take long.
        for (int tries = 0; tries < 8; ++tries) {
            if (normal_of_[vertex] == normal) return vertex;
            if (next_[vertex] == no_index) break;
            vertex = next_[vertex];
        }
        const auto split = static_cast<std::uint32_t>(soup_.positions.size());
        check_count(soup_.positions.size(), 0);
        const glm::vec3 position = soup_.positions[vertex];
        soup_.positions.push_back(position);
        normal_of_.push_back(normal);
        next_.push_back(next_[vertex]);
        next_[vertex] = split;
        return split;
    }

    /// Fills the soup's normals.
    void end() {
        soup_.normals.resize(soup_.positions.size());
        for (std::size_t i = 0; i < soup_.normals.size(); ++i)
            soup_.normals[i] =
                normal_of_[i] < file_normals_.size() ? file_normals_[normal_of_[i]] : absent_normal;
    }

    std::size_t normals() const { return file_normals_.size(); }

private:
    static constexpr std::uint32_t unused = no_index - 1;
    Soup& soup_;
    Array<glm::vec3> file_normals_;
    Array<std::uint32_t> normal_of_, next_;
};

/// Fills the soup's indices and normals, and says which parts have any.
void join_with_normals(std::vector<Chunk>& chunks, Soup& soup) {
    VertexSplitter splitter(soup);
    std::size_t part = 0;
    std::uint64_t triangles = 0;
    for (const Chunk& chunk : chunks) triangles += chunk.triangles;
    soup.indices.reserve(3 * triangles);
    for (Chunk& chunk : chunks) {
        const Polygons list = std::exchange(chunk.polygons, {});
        for (std::size_t c = 0; c < list.corners.size(); ++c) {
            const std::uint32_t normal = list.normals[c];
            if (normal != no_index && normal >= splitter.normals()) throw Unfamiliar();
            while (soup.indices.size() / 3 >=
                   soup.parts[part].first_triangle + soup.parts[part].triangle_count)
                ++part;
            if (normal != no_index) soup.parts[part].has_normals = true;
            soup.indices.push_back(splitter.vertex_for(list.corners[c], normal));
        }
    }
    splitter.end();
}

void name_parts(const std::vector<Chunk>& chunks, const std::filesystem::path& path,
                RecordingIo& io, const ReadingSettings& reading, Soup& soup) {
    ObjParts parts;
    ObjLibraries libraries(path, io);
    std::uint64_t elements = 0, triangles = 0;
    for (const Chunk& chunk : chunks) {
        for (ObjStatement statement : chunk.statements) {
            statement.elements += elements;
            statement.triangles += triangles;
            if (statement.kind == ObjStatement::Kind::library)
                libraries.take(statement.name);
            else
                parts.follow(statement);
        }
        elements += chunk.elements;
        triangles += chunk.triangles;
        soup.facts.dropped_lines_points += chunk.loose;
    }
    if (elements == 0) throw Unfamiliar();  // points at most
    if (reading.maps && libraries.has_maps()) throw Unfamiliar();
    check_count(soup.positions.size(), triangles);
    soup.parts = parts.end(triangles);
}

std::string_view without_byte_order_mark(std::string_view text) {
    return text.starts_with("\xEF\xBB\xBF") ? text.substr(3) : text;
}

}  // namespace

Soup read_obj(const MappedFile& file, const std::filesystem::path& path, RecordingIo& io,
              const ReadingSettings& reading) {
    std::vector<Chunk> chunks = count_all(file, without_byte_order_mark(file.bytes()));
    if (chunks.empty()) throw Unfamiliar();
    const Counts last = chunks.back().before, own = chunks.back().own;
    const std::uint64_t vertices = last.vertices + own.vertices;
    check_count(std::max(vertices, last.normals + own.normals), 0);
    Soup soup;
    soup.positions.resize(vertices);
    if (reading.normals != NormalSource::made) soup.normals.resize(last.normals + own.normals);
    parallel_chunks(chunks.size(), 1, [&](std::size_t i, auto, auto) {
        ChunkReader(chunks[i], soup).read();
        file.release(chunks[i].text);
    });
    name_parts(chunks, path, io, reading, soup);
    std::vector<Polygons> lists;
    for (Chunk& chunk : chunks) lists.push_back(std::move(chunk.polygons));
    try {
        check_and_cut(lists, soup.positions, {.first = 1}, soup.facts);
    } catch (const Error&) {
        refuse_bad_corner(file.bytes());  // which knows the line
        throw;
    }
    if (soup.normals.empty()) {
        soup.indices = join_corners(lists);
        return soup;
    }
    for (std::size_t i = 0; i < lists.size(); ++i) chunks[i].polygons = std::move(lists[i]);
    join_with_normals(chunks, soup);
    return soup;
}

}  // namespace rakelight
