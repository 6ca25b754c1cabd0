#include "image/deflated.hpp"

#include <libdeflate.h>

#include <memory>
#include <new>

namespace rakelight {

std::vector<std::uint8_t> deflated(const std::vector<std::uint8_t>& bytes, int level) {
    const std::unique_ptr<libdeflate_compressor, decltype(&libdeflate_free_compressor)> compressor(
        libdeflate_alloc_compressor(level), &libdeflate_free_compressor);
    if (compressor == nullptr) throw std::bad_alloc();
    std::vector<std::uint8_t> stream(
        libdeflate_zlib_compress_bound(compressor.get(), bytes.size()));
    stream.resize(libdeflate_zlib_compress(compressor.get(), bytes.data(), bytes.size(),
                                           stream.data(), stream.size()));
    return stream;
}

}  // namespace rakelight
