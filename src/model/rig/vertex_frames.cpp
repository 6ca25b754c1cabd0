#include "model/rig/vertex_frames.hpp"

#include <array>
#include <cstddef>
#include <fstream>
#include <string_view>

namespace rakelight {
namespace {

struct FrameHeader {
    std::string_view magic;
    std::size_t count_at;  ///< offset of the count: 32 bits, the low byte first
};

// As in the headers that the importer reads the formats by (Assimp 5.2.5, MD2FileData.h,
// MD3FileData.h, MDCFileData.h).
constexpr std::array headers{FrameHeader{"IDP2", 40}, FrameHeader{"IDP3", 76},
                             FrameHeader{"IDPC", 76}};

}  // namespace

std::uint32_t count_vertex_frames(const std::filesystem::path& file) {
    std::array<char, 80> head{};
    std::ifstream in(file, std::ios::binary);
    if (!in.read(head.data(), head.size())) return 0;
    for (const FrameHeader& header : headers) {
        if (std::string_view(head.data(), header.magic.size()) != header.magic) continue;
        std::uint32_t count = 0;
        for (std::size_t k = 4; k-- > 0;)
            count = count << 8 | static_cast<unsigned char>(head[header.count_at + k]);
        return count;
    }
    return 0;
}

}  // namespace rakelight
