#include "model/readers/stl_layout.hpp"

#include <algorithm>
#include <cstring>
#include <string>

#include "model/readers/text_scan.hpp"

namespace rakelight {

std::uint32_t stl_claimed_triangles(std::string_view head) {
    std::uint32_t claimed = 0;
    std::memcpy(&claimed, head.data() + stl_head_bytes - sizeof claimed, sizeof claimed);
    return claimed;
}

bool is_text_stl(std::string_view head, std::uint64_t file_bytes) {
    if (file_bytes >= stl_head_bytes && head.size() >= stl_head_bytes) {
        const std::uint64_t claimed = stl_claimed_triangles(head);
        if (claimed > 0 && file_bytes - stl_head_bytes == claimed * stl_triangle_bytes)
            return false;
    }
    const std::string_view text = without_utf8_mark(head);
    const std::size_t word = text.find_first_not_of(" \t\r\n");
    if (word == std::string_view::npos || lower(std::string(text.substr(word, 5))) != "solid")
        return false;
    // Letters of any alphabet and encoding stand in names; a byte of value 0 stands in no text, and
    // in every binary file: at least as the highest of its count.
    return head.substr(0, 512).find('\0') == std::string_view::npos;
}

}  // namespace rakelight
