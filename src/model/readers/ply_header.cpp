#include "model/readers/ply_header.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <system_error>
#include <utility>

#include "model/readers/text_scan.hpp"

namespace rakelight {
namespace {

PlyType type_of(std::string_view name) {
    // Both families of names are in use.
    static constexpr std::array<std::pair<std::string_view, PlyType>, 16> types{{
        {"char", PlyType::int8},
        {"uchar", PlyType::uint8},
        {"short", PlyType::int16},
        {"ushort", PlyType::uint16},
        {"int", PlyType::int32},
        {"uint", PlyType::uint32},
        {"float", PlyType::float32},
        {"double", PlyType::float64},
        {"int8", PlyType::int8},
        {"uint8", PlyType::uint8},
        {"int16", PlyType::int16},
        {"uint16", PlyType::uint16},
        {"int32", PlyType::int32},
        {"uint32", PlyType::uint32},
        {"float32", PlyType::float32},
        {"float64", PlyType::float64},
    }};
    const auto* found = std::find_if(types.begin(), types.end(),
                                     [&](const auto& entry) { return entry.first == name; });
    if (found == types.end()) throw Unfamiliar();
    return found->second;
}

/// The words of one line after the other.
class HeaderScan {
public:
    explicit HeaderScan(std::string_view bytes) : scan_(bytes), first_(bytes.data()) {}

    /// The next word of the line, which must be there.
    std::string_view word() {
        while (scan_.take(' ') || scan_.take('\t')) {
        }
        const std::string_view word = scan_.word();
        if (word.empty()) throw Unfamiliar();
        return word;
    }

    void end_line() {
        while (scan_.take(' ') || scan_.take('\t')) {
        }
        if (scan_.at_end() || !scan_.take_line_end()) throw Unfamiliar();
    }

    void skip_line() {
        // Not TextScan::skip_line: a backslash means nothing here.
        while (!scan_.at_end() && !scan_.take('\n')) scan_.take(*scan_.place());
    }

    std::size_t bytes() const { return static_cast<std::size_t>(scan_.place() - first_); }
    bool at_end() const { return scan_.at_end(); }

private:
    TextScan scan_;
    const char* first_;
};

PlyFormat format_of(std::string_view name) {
    if (name == "ascii") return PlyFormat::ascii;
    if (name == "binary_little_endian") return PlyFormat::little_endian;
    if (name == "binary_big_endian") return PlyFormat::big_endian;
    throw Unfamiliar();
}

PlyElement read_element(HeaderScan& scan) {
    PlyElement element;
    element.name = scan.word();
    const std::string_view count = scan.word();
    const auto [end, error] =
        std::from_chars(count.data(), count.data() + count.size(), element.count);
    if (error != std::errc{} || end != count.data() + count.size()) throw Unfamiliar();
    return element;
}

PlyProperty read_property(HeaderScan& scan) {
    const std::string_view first = scan.word();
    PlyProperty property{{}, PlyType::float32, std::nullopt};
    if (first == "list") {
        property.count_type = type_of(scan.word());
        if (*property.count_type >= PlyType::float32) throw Unfamiliar();
        property.type = type_of(scan.word());
    } else {
        property.type = type_of(first);
    }
    property.name = scan.word();
    return property;
}

}  // namespace

std::size_t size_of(PlyType type) {
    static constexpr std::array<std::size_t, 8> sizes{1, 1, 2, 2, 4, 4, 4, 8};
    return sizes[static_cast<std::size_t>(type)];
}

bool PlyElement::has_list() const {
    return std::any_of(properties.begin(), properties.end(),
                       [](const PlyProperty& p) { return p.count_type.has_value(); });
}

std::size_t PlyElement::scalar_bytes() const {
    std::size_t sum = 0;
    for (const PlyProperty& p : properties) sum += p.count_type ? 0 : size_of(p.type);
    return sum;
}

std::optional<std::size_t> PlyElement::find(std::string_view property) const {
    for (std::size_t i = 0; i < properties.size(); ++i)
        if (properties[i].name == property) return i;
    return std::nullopt;
}

bool PlyHeader::has_strips() const {
    return std::any_of(elements.begin(), elements.end(),
                       [](const PlyElement& e) { return e.name == "tristrips" && e.count > 0; });
}

PlyHeader read_ply_header(std::string_view bytes) {
    PlyHeader header;
    HeaderScan scan(bytes);
    if (scan.word() != "ply") throw Unfamiliar();
    scan.end_line();
    if (scan.word() != "format") throw Unfamiliar();
    header.format = format_of(scan.word());
    scan.word();  // the version, of which there is one
    scan.end_line();
    for (;;) {
        if (scan.at_end()) throw Unfamiliar();
        const std::string_view word = scan.word();
        // "Created by ..." is what one program wrote for years instead of a comment.
        if (word == "comment" || word == "obj_info" || word == "Created") {
            scan.skip_line();
            continue;
        }
        if (word == "end_header") break;
        if (word == "element")
            header.elements.push_back(read_element(scan));
        else if (word == "property" && !header.elements.empty())
            header.elements.back().properties.push_back(read_property(scan));
        else
            throw Unfamiliar();
        scan.end_line();
    }
    scan.end_line();
    header.bytes = scan.bytes();
    return header;
}

}  // namespace rakelight
