#include "render/triangle_bins.hpp"

#include <algorithm>

#include "image/row_bands.hpp"

namespace rakelight {
namespace {

constexpr std::size_t most_batches = 64;

struct Entry {
    std::uint32_t list;
    TriangleRef ref;
};

// What one batch of clusters puts where.
struct Batch {
    std::vector<Entry> entries;
    std::vector<std::uint32_t> counts;  ///< a list
    std::vector<float> nearness;        ///< a tile: of the nearest corner of its backs
};

struct Span {
    int first;
    int end;
    bool empty() const { return first >= end; }
};

// The samples whose centres lie within [low, high] sub-samples.
Span samples_between(std::int32_t low, std::int32_t high) {
    const auto centre_up = [](std::int64_t v) { return (v + sub_samples / 2 - 1) >> 10; };
    static_assert(sub_samples == 1 << 10);
    return {static_cast<int>(centre_up(low)),
            static_cast<int>(((std::int64_t{high} - sub_samples / 2) >> 10) + 1)};
}

int floor_divide(int value, int by) {
    return value >= 0 ? value / by : -((-value + by - 1) / by);
}

// The tiles that know a pixel that holds one of the samples.
Span tiles_of(Span samples, int per_px, int first, int end) {
    const int first_px = floor_divide(samples.first, per_px);
    const int last_px = floor_divide(samples.end - 1, per_px);
    return {std::max(floor_divide(first_px - tile_guard_px, tile_px), first),
            std::min(floor_divide(last_px + tile_guard_px, tile_px) + 1, end)};
}

class Sorter {
public:
    Sorter(const SampleMesh& mesh, const TileStrip& strip, int samples)
        : mesh_(mesh), strip_(strip), samples_(samples) {}

    void sort(std::size_t cluster, Batch& batch) const {
        mesh_.for_triangles(cluster, [&](TriangleRef ref) { place(ref, batch); });
    }

private:
    void place(TriangleRef ref, Batch& batch) const {
        const auto [a, b, c] = mesh_.corners(ref);
        const Span xs = samples_between(std::min({a->x, b->x, c->x}), std::max({a->x, b->x, c->x}));
        if (xs.empty()) return;
        const Span ys = samples_between(std::min({a->y, b->y, c->y}), std::max({a->y, b->y, c->y}));
        if (ys.empty()) return;
        const Span columns = tiles_of(xs, samples_, 0, strip_.columns);
        const Span rows = tiles_of(ys, samples_, strip_.first_row, strip_.end_row);
        const std::uint32_t behind = is_front(*a, *b, *c) ? 0 : 1;
        const float nearness =
            behind == 0 ? 0.0F : std::max({a->nearness, b->nearness, c->nearness});
        for (int row = rows.first; row < rows.end; ++row) {
            for (int column = columns.first; column < columns.end; ++column) {
                const auto tile =
                    static_cast<std::uint32_t>((row - strip_.first_row) * strip_.columns + column);
                batch.entries.push_back({2 * tile + behind, ref});
                ++batch.counts[2 * tile + behind];
                batch.nearness[tile] = std::max(batch.nearness[tile], nearness);
            }
        }
    }

    // Rows run downwards, which mirrors every triangle.
    static bool is_front(const SampleVertex& a, const SampleVertex& b, const SampleVertex& c) {
        const std::int64_t abx = std::int64_t{b.x} - a.x, aby = std::int64_t{b.y} - a.y;
        const std::int64_t acx = std::int64_t{c.x} - a.x, acy = std::int64_t{c.y} - a.y;
        return abx * acy - acx * aby < 0;
    }

    const SampleMesh& mesh_;
    TileStrip strip_;
    int samples_;
};

// From counts to places: list by list, within a list batch by batch.
std::vector<std::size_t> place_batches(std::vector<Batch>& batches, std::size_t lists,
                                       std::vector<std::vector<std::size_t>>& places) {
    std::vector<std::size_t> starts(lists + 1);
    std::size_t next = 0;
    places.assign(batches.size(), std::vector<std::size_t>(lists));
    for (std::size_t list = 0; list < lists; ++list) {
        starts[list] = next;
        for (std::size_t b = 0; b < batches.size(); ++b) {
            places[b][list] = next;
            next += batches[b].counts[list];
        }
    }
    starts[lists] = next;
    return starts;
}

// Of each tile the part of its backs that each batch put there.
std::vector<BackRun> back_runs(const std::vector<Batch>& batches,
                               const std::vector<std::size_t>& starts) {
    std::vector<BackRun> runs;
    runs.reserve(batches.size() * (starts.size() / 2));
    for (std::size_t tile = 0; 2 * tile + 1 < starts.size(); ++tile) {
        std::size_t end = starts[2 * tile + 1] - starts[2 * tile];
        for (const Batch& batch : batches) {
            end += batch.counts[2 * tile + 1];
            runs.push_back({end, batch.nearness[tile]});
        }
    }
    return runs;
}

}  // namespace

TriangleBins::TriangleBins(const SampleMesh& mesh, const std::vector<std::size_t>& clusters,
                           const TileStrip& strip, int samples) {
    const Sorter sorter(mesh, strip, samples);
    const auto lists = 2 * static_cast<std::size_t>(strip.tiles());
    const std::size_t count = std::min(most_batches, clusters.size());
    std::vector<Batch> batches(count);
    const auto each = [&](const auto& work) {
        for_row_bands(static_cast<int>(count), 1,
                      [&](int b, int) { work(static_cast<std::size_t>(b)); });
    };
    each([&](std::size_t b) {
        batches[b].counts.assign(lists, 0);
        batches[b].nearness.assign(lists / 2, 0.0F);
        const std::size_t end = clusters.size() * (b + 1) / count;
        for (std::size_t i = clusters.size() * b / count; i < end; ++i) {
            sorter.sort(clusters[i], batches[b]);
        }
    });
    std::vector<std::vector<std::size_t>> places;
    starts_ = place_batches(batches, lists, places);
    batches_ = count;
    runs_ = back_runs(batches, starts_);
    refs_.resize(starts_.back());
    each([&](std::size_t b) {
        for (const Entry& entry : batches[b].entries) refs_[places[b][entry.list]++] = entry.ref;
        batches[b] = {};
    });
}

}  // namespace rakelight
