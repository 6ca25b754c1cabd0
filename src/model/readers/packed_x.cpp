// A header of 16 bytes and the size of all, unpacked, in 4; then blocks: their size unpacked and
// packed in 2 bytes each, and as many bytes of MSZIP, "CK" and a stream of deflate (MS-MCI, section
// 2.1; what is around the blocks: from memory, and seen on a file of the package of test models).

#include "model/readers/packed_x.hpp"

#include <cstdint>

#include "error.hpp"
#include "model/readers/zip_package.hpp"

namespace rakelight {
namespace {

constexpr std::size_t header = 20, block_header = 4;
constexpr std::uint64_t block_bytes = 32786;  // as the importer has it, for each

std::size_t number_at(std::string_view bytes, std::size_t at) {
    return static_cast<unsigned char>(bytes[at]) |
           std::size_t{static_cast<unsigned char>(bytes[at + 1])} << 8;
}

std::uint64_t unpacked_bytes(std::string_view file) {
    std::uint64_t blocks = 0;
    for (std::size_t at = header; at < file.size() && file.size() - at > block_header; ++blocks)
        at += block_header + number_at(file, at + 2);
    return blocks * block_bytes;
}

}  // namespace

bool begins_packed_x(std::string_view bytes) {
    return bytes.starts_with("xof ") && bytes.size() >= 12 && bytes.substr(9, 3) == "zip";
}

void refuse_packed_bomb(std::string_view file) {
    const std::uint64_t bytes = unpacked_bytes(file), most = most_unpacked(file.size());
    if (bytes > most)
        throw Error(ExitCode::bad_model, "it unpacks to more than " + std::to_string(most >> 20) +
                                             " MiB, " + made_to_exhaust);
    if (bytes >= UINT32_MAX)
        throw Error(ExitCode::bad_model,
                    "it unpacks to more than 4095 MiB; expected less; save it without packing");
}

}  // namespace rakelight
