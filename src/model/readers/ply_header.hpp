#pragma once
// The header of a PLY file. Private to model/.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace rakelight {

enum class PlyType : std::uint8_t { int8, uint8, int16, uint16, int32, uint32, float32, float64 };
enum class PlyFormat : std::uint8_t { ascii, little_endian, big_endian };

/// Bytes of a number.
std::size_t size_of(PlyType type);

struct PlyProperty {
    std::string name;
    PlyType type;
    std::optional<PlyType> count_type;  ///< of a list; its numbers have `type`
};

struct PlyElement {
    std::string name;
    std::uint64_t count = 0;
    std::vector<PlyProperty> properties;

    bool has_list() const;
    /// Bytes of one of them in a binary file; lists count as nothing.
    std::size_t scalar_bytes() const;
    /// Where the property stands among the others; none of that name: nothing.
    std::optional<std::size_t> find(std::string_view property) const;
};

struct PlyHeader {
    PlyFormat format = PlyFormat::ascii;
    std::vector<PlyElement> elements;
    std::size_t bytes = 0;  ///< of the header, up to where the data begins

    /// Whether there are triangle strips.
    bool has_strips() const;
};

/// Throws Unfamiliar when the header is not as the format has it (G. Turk 1994, "The PLY Polygon
/// File Format") or does not end.
PlyHeader read_ply_header(std::string_view bytes);

}  // namespace rakelight
