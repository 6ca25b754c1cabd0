// ITU-T T.81, annex B: markers (B.1.1), segments (B.1.1.4), Huffman tables (B.2.4.2).

#include "model/pictures/jpeg_tables.hpp"

#include <algorithm>
#include <cstddef>
#include <numeric>

namespace rakelight {
namespace {

using Bytes = std::span<const unsigned char>;

constexpr unsigned char start_of_image = 0xD8, start_of_scan = 0xDA, huffman_tables = 0xC4;

/// Behind the next marker; its second byte is the last one before. The end where there is none.
std::size_t behind_marker(Bytes file, std::size_t at) {
    while (at < file.size() && file[at] != 0xFF) ++at;
    while (at < file.size() && file[at] == 0xFF) ++at;
    return at < file.size() ? at + 1 : at;
}

/// The tables from here to the segment's end: a byte that says which, how many codes there are of
/// each length from 1 to 16, and their values. What the file lacks at its end counts as 0.
bool is_overfull(Bytes file, std::size_t at) {
    constexpr std::size_t lengths = 16;
    if (file.size() - at < 2) return false;
    std::ptrdiff_t left = (file[at] << 8 | file[at + 1]) - 2;
    for (at += 2; left > 0 && at < file.size();) {
        const Bytes rest = file.subspan(at + 1);
        const Bytes counts = rest.first(std::min(rest.size(), lengths));
        const std::size_t codes = std::accumulate(counts.begin(), counts.end(), std::size_t{0});
        if (codes > 256) return true;
        const std::size_t table = 1 + lengths + codes;
        left -= static_cast<std::ptrdiff_t>(table);
        at += std::min(table, file.size() - at);
    }
    return false;
}

}  // namespace

// Segments are passed over by their lengths up to the first scan. Behind it every marker is looked
// at: in a scan's data no other byte than 0 or that of a restart follows an FF.
bool has_overfull_jpeg_table(Bytes file) {
    if (file.size() < 2 || file[0] != 0xFF) return false;
    std::size_t at = behind_marker(file, 0);
    if (file[at - 1] != start_of_image) return false;
    bool in_scans = false;
    while ((at = behind_marker(file, at)) < file.size()) {
        const unsigned char marker = file[at - 1];
        if (marker == huffman_tables && is_overfull(file, at)) return true;
        in_scans = in_scans || marker == start_of_scan;
        if (in_scans || file.size() - at < 2) continue;
        at += std::min<std::size_t>(file[at] << 8 | file[at + 1], file.size() - at);
    }
    return false;
}

}  // namespace rakelight
