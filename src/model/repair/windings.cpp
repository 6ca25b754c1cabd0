#include <algorithm>
#include <limits>
#include <numeric>

#include "model/parallel.hpp"
#include "model/repair/edges.hpp"
#include "model/repair/faults.hpp"
#include "model/repair/surface.hpp"

namespace rakelight {
namespace {

/// A piece: triangles connected through edges that have exactly two.
struct Piece {
    std::uint32_t first = 0;  ///< its first triangle
    std::uint32_t size = 0;
    std::uint32_t turned = 0;     ///< triangles that are wound against the first
    std::uint32_t conflicts = 0;  ///< edges across which windings cannot agree
    bool closed = true;           ///< no boundary, no crowded edge
    bool turn_all = false;
    double volume = 0.0;  ///< closed pieces: signed, six times; positive is wound outward
    glm::vec3 low{std::numeric_limits<float>::infinity()};
    glm::vec3 high{-std::numeric_limits<float>::infinity()};
};

/// Triangles joined into sets; each knows whether it is wound against the first of its set. A link
/// is the number of another triangle, shifted by one, and below it whether the two are wound
/// against each other. (Disjoint sets with halved paths: R. E. Tarjan and J. van Leeuwen 1984,
/// "Worst-Case Analysis of Set Union Algorithms". The root is the smallest number, so that the
/// result does not depend on the order of joining.)
class Windings {
public:
    explicit Windings(std::size_t triangles) : links_(triangles) {
        for (std::uint32_t t = 0; t < triangles; ++t) links_[t] = t << 1;
    }

    /// Link from `t` to the root of its set.
    std::uint32_t find(std::uint32_t t) {
        std::uint32_t against = 0;
        for (;;) {
            const std::uint32_t link = links_[t], parent = link >> 1;
            if (parent == t) return (t << 1) | against;
            const std::uint32_t next = links_[parent];
            if (next >> 1 == parent) return link ^ against;
            links_[t] = next ^ (link & 1);
            against ^= (next ^ link) & 1;
            t = next >> 1;
        }
    }

    /// False when the two cannot agree: they belong to one set already, with the other parity.
    bool join(std::uint32_t a, std::uint32_t b, bool against) {
        const std::uint32_t root_a = find(a), root_b = find(b);
        const std::uint32_t parity = ((root_a ^ root_b) & 1) ^ std::uint32_t{against};
        if (root_a >> 1 == root_b >> 1) return parity == 0;
        const std::uint32_t first = std::min(root_a >> 1, root_b >> 1);
        links_[std::max(root_a >> 1, root_b >> 1)] = (first << 1) | parity;
        return true;
    }

private:
    Array<std::uint32_t> links_;
};

struct Pieces {
    std::vector<Piece> list;
    Array<std::uint8_t> turned;  ///< per triangle: wound against the first of its piece

    bool is_turned(const Surface& surface, std::uint32_t t) const {
        return (turned[t] != 0) != list[surface.pieces[t]].turn_all;
    }
};

// Numbers the sets in the order of their first triangles.
Pieces number_pieces(Surface& surface, Windings& windings) {
    const auto triangles = static_cast<std::uint32_t>(surface.triangle_count());
    Pieces pieces;
    pieces.turned.resize(triangles);
    surface.pieces.resize(triangles);
    for (std::uint32_t t = 0; t < triangles; ++t) {
        const std::uint32_t root = windings.find(t);
        if (root >> 1 == t) pieces.list.push_back({t});
        const std::uint32_t number = root >> 1 == t
                                         ? static_cast<std::uint32_t>(pieces.list.size() - 1)
                                         : surface.pieces[root >> 1];
        surface.pieces[t] = number;
        pieces.turned[t] = root & 1;
        ++pieces.list[number].size;
        pieces.list[number].turned += root & 1;
    }
    surface.piece_count = static_cast<std::uint32_t>(pieces.list.size());
    for (Piece& piece : pieces.list) piece.turn_all = piece.turned > piece.size / 2;
    return pieces;
}

/// What a chunk of triangles leaves to do after its own edges are joined.
struct Leftover {
    std::vector<std::uint32_t> outward;   ///< corners whose edges lead to later chunks
    std::vector<std::uint32_t> conflict;  ///< triangles at edges across which windings cannot agree
    std::vector<std::uint32_t> open;      ///< triangles at boundary or crowded edges
};

void join_across(const Surface& surface, const Edges& edges, std::uint32_t corner,
                 Windings& windings, std::vector<std::uint32_t>& conflict) {
    const std::uint32_t other = edges.across[corner];
    // Wound alike, two triangles run along their common edge in opposite directions.
    const bool against = surface.points[corner] == surface.points[other];
    if (!windings.join(corner / 3, other / 3, against)) conflict.push_back(corner / 3);
}

// Most neighbours in spatial order are of one chunk, whose links no other chunk touches. Uses up
// what lies across the edges.
Pieces find_pieces(Surface& surface, Edges& edges) {
    constexpr std::size_t chunk_size = 1 << 15;
    Windings windings(surface.triangle_count());
    std::vector<Leftover> chunks(chunk_count(surface.triangle_count(), chunk_size));
    parallel_chunks(surface.triangle_count(), chunk_size,
                    [&](std::size_t chunk, std::size_t first, std::size_t last) {
                        Leftover left;
                        for (std::size_t c = 3 * first; c < 3 * last; ++c) {
                            const auto corner = static_cast<std::uint32_t>(c);
                            const std::uint32_t other = edges.across[c];
                            if (other >= crowded_edge)
                                left.open.push_back(corner / 3);
                            else if (other >= 3 * last)
                                left.outward.push_back(corner);
                            else if (other > corner)
                                join_across(surface, edges, corner, windings, left.conflict);
                        }
                        chunks[chunk] = std::move(left);
                    });
    for (Leftover& left : chunks)
        for (const std::uint32_t corner : left.outward)
            join_across(surface, edges, corner, windings, left.conflict);
    drop(edges.across);
    Pieces pieces = number_pieces(surface, windings);
    for (const Leftover& left : chunks) {
        for (const std::uint32_t t : left.conflict) ++pieces.list[surface.pieces[t]].conflicts;
        for (const std::uint32_t t : left.open) pieces.list[surface.pieces[t]].closed = false;
    }
    return pieces;
}

/// What a run of triangles of one piece adds to it.
struct Share {
    std::uint32_t piece;
    double volume = 0.0;
    glm::vec3 low{std::numeric_limits<float>::infinity()};
    glm::vec3 high{-std::numeric_limits<float>::infinity()};
};

// Volumes by the divergence theorem: tetrahedra from a point of the piece to each triangle. (A
// point of the piece and not the origin, so that a model far from it loses no digits.)
std::vector<Share> measure_run(const Surface& surface, const Pieces& pieces,
                               const std::vector<glm::dvec3>& origins, std::size_t first,
                               std::size_t last) {
    std::vector<Share> shares;
    for (std::size_t t = first; t < last; ++t) {
        const std::uint32_t number = surface.pieces[t];
        if (!pieces.list[number].closed) continue;
        if (shares.empty() || shares.back().piece != number) shares.push_back({number});
        Share& share = shares.back();
        const std::uint32_t* points = &surface.points[3 * t];
        const glm::vec3 a = surface.positions[points[0]], b = surface.positions[points[1]],
                        c = surface.positions[points[2]];
        const glm::dvec3 o = origins[number];
        const double six_volumes =
            glm::dot(glm::dvec3(a) - o, glm::cross(glm::dvec3(b) - o, glm::dvec3(c) - o));
        const bool turned = pieces.is_turned(surface, static_cast<std::uint32_t>(t));
        share.volume += turned ? -six_volumes : six_volumes;
        share.low = glm::min(glm::min(share.low, a), glm::min(b, c));
        share.high = glm::max(glm::max(share.high, a), glm::max(b, c));
    }
    return shares;
}

void measure_closed_pieces(const Surface& surface, Pieces& pieces) {
    std::vector<glm::dvec3> origins;
    for (const Piece& piece : pieces.list)
        origins.emplace_back(surface.positions[surface.points[3 * std::size_t{piece.first}]]);
    constexpr std::size_t chunk_size = 1 << 14;
    std::vector<std::vector<Share>> chunks(chunk_count(surface.triangle_count(), chunk_size));
    parallel_chunks(surface.triangle_count(), chunk_size,
                    [&](std::size_t chunk, std::size_t first, std::size_t last) {
                        chunks[chunk] = measure_run(surface, pieces, origins, first, last);
                    });
    for (const std::vector<Share>& shares : chunks)
        for (const Share& share : shares) {
            Piece& piece = pieces.list[share.piece];
            piece.volume += share.volume;
            piece.low = glm::min(piece.low, share.low);
            piece.high = glm::max(piece.high, share.high);
        }
}

bool encloses(const Piece& outer, const Piece& inner) {
    return glm::all(glm::lessThan(outer.low, inner.low)) &&
           glm::all(glm::lessThan(inner.high, outer.high));
}

// Closed pieces that no larger one encloses are turned outward; the others follow the one that
// encloses them, because a cavity is rightly wound the other way round. What is no cavity then is
// handed back.
std::vector<EnclosedPiece> turn_outward(std::vector<Piece>& pieces) {
    constexpr std::size_t most_enclosing = 64;  // keeps models of very many pieces fast
    std::vector<Piece*> closed;
    for (Piece& piece : pieces)
        if (piece.closed && piece.conflicts == 0) closed.push_back(&piece);
    const auto box = [](const Piece* p) {
        const glm::dvec3 size = glm::dvec3(p->high) - glm::dvec3(p->low);
        return size.x * size.y * size.z;
    };
    std::stable_sort(closed.begin(), closed.end(),
                     [&](const Piece* a, const Piece* b) { return box(a) > box(b); });
    std::vector<std::pair<const Piece*, bool>> enclosing;
    std::vector<EnclosedPiece> no_cavities;
    for (Piece* piece : closed) {
        const auto outer = std::find_if(enclosing.begin(), enclosing.end(),
                                        [&](const auto& e) { return encloses(*e.first, *piece); });
        const bool is_outer = outer == enclosing.end();
        const bool turn = is_outer ? piece->volume < 0.0 : outer->second;
        if (is_outer && enclosing.size() < most_enclosing) enclosing.emplace_back(piece, turn);
        piece->turn_all ^= turn;
        if (!is_outer && (piece->volume < 0.0) == turn)
            no_cavities.push_back(
                {piece->first, static_cast<std::uint32_t>(outer->first - pieces.data())});
    }
    return no_cavities;
}

std::uint64_t turn_triangles(Surface& surface, const Pieces& pieces) {
    if (std::none_of(pieces.list.begin(), pieces.list.end(),
                     [](const Piece& p) { return p.turn_all || p.turned > 0; }))
        return 0;
    std::uint64_t count = 0;
    for (std::uint32_t t = 0; t < surface.triangle_count(); ++t) {
        if (!pieces.is_turned(surface, t)) continue;
        ++count;
        std::swap(surface.points[3 * std::size_t{t} + 1], surface.points[3 * std::size_t{t} + 2]);
        if (surface.vertices.empty()) continue;
        std::swap(surface.vertices[3 * std::size_t{t} + 1],
                  surface.vertices[3 * std::size_t{t} + 2]);
    }
    for (std::uint32_t& corner : surface.fans.corners)  // 0 stays, 1 and 2 swap
        if (corner % 3 != 0 && pieces.is_turned(surface, corner / 3))
            corner += corner % 3 == 1 ? 1 : -1;
    return count;
}

// Pieces that meet at crowded edges are one shell.
std::uint64_t count_shells(const Surface& surface, const Edges& edges) {
    std::vector<std::uint32_t> parent(surface.piece_count);
    std::iota(parent.begin(), parent.end(), 0);
    const auto root = [&](std::uint32_t piece) {
        while (parent[piece] != piece) piece = parent[piece] = parent[parent[piece]];
        return piece;
    };
    std::uint64_t shells = surface.piece_count;
    for (const auto& [a, b] : edges.crowded_pairs) {
        const std::uint32_t root_a = root(surface.pieces[a]), root_b = root(surface.pieces[b]);
        if (root_a == root_b) continue;
        parent[std::max(root_a, root_b)] = std::min(root_a, root_b);
        --shells;
    }
    return shells;
}

}  // namespace

void mend_windings(Surface& surface, ModelFacts& facts) {
    Edges edges = find_edges(surface);
    Pieces pieces = find_pieces(surface, edges);
    measure_closed_pieces(surface, pieces);
    const std::vector<EnclosedPiece> no_cavities = turn_outward(pieces.list);
    facts.flipped_windings = turn_triangles(surface, pieces);
    facts.boundary_edges = edges.border.size();
    facts.crowded_edges = edges.crowded;
    facts.shells = count_shells(surface, edges);
    facts.closed = edges.border.empty() && edges.crowded == 0;
    facts.borders = count_borders(edges.border, surface.positions.size());
    facts.t_junctions = count_t_junctions(edges.border, surface.positions);
    facts.spikes = count_spikes(surface);
    facts.inner_shells = count_inner_shells(surface, no_cavities);
    std::uint64_t conflicts = 0;
    for (const Piece& piece : pieces.list) conflicts += piece.conflicts;
    if (conflicts > 0)
        facts.warnings.push_back("the windings cannot be made to agree across " +
                                 std::to_string(conflicts) +
                                 " edges: the surface has only one side there");
}

}  // namespace rakelight
