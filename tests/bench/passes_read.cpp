#include "passes_read.hpp"

#include <png.h>

#include <algorithm>
#include <cstdio>
#include <memory>
#include <stdexcept>

namespace bench {
namespace {

[[noreturn]] void on_error(png_structp, png_const_charp message) {
    // Nobody above handles a jump; the benchmark cannot go on without its own input.
    std::fprintf(stderr, "libpng: %s\n", message);
    std::exit(1);
}

rakelight::Image16 codes_of(const fs::path& path) {
    const std::unique_ptr<std::FILE, int (*)(std::FILE*)> file(std::fopen(path.c_str(), "rb"),
                                                               std::fclose);
    if (!file) throw std::runtime_error(path.string() + " cannot be read");
    png_structp png = png_create_read_struct(PNG_LIBPNG_VER_STRING, nullptr, on_error, nullptr);
    png_infop info = png_create_info_struct(png);
    png_init_io(png, file.get());
    png_read_png(png, info, PNG_TRANSFORM_SWAP_ENDIAN, nullptr);
    rakelight::Image16 image(static_cast<int>(png_get_image_width(png, info)),
                             static_cast<int>(png_get_image_height(png, info)),
                             png_get_channels(png, info));
    if (png_get_bit_depth(png, info) != 16)
        throw std::runtime_error(path.string() + ": not 16-bit");
    const png_bytepp rows = png_get_rows(png, info);
    const std::size_t samples = static_cast<std::size_t>(image.width) * image.channels;
    for (int y = 0; y < image.height; ++y) {
        const auto* row = reinterpret_cast<const std::uint16_t*>(rows[y]);
        std::copy_n(row, samples, image.codes.begin() + static_cast<std::ptrdiff_t>(y * samples));
    }
    png_destroy_read_struct(&png, &info, nullptr);
    return image;
}

}  // namespace

std::vector<WrittenPass> written_passes(const fs::path& folder) {
    std::vector<WrittenPass> passes;
    for (const auto& entry : fs::directory_iterator(folder)) {
        const fs::path& file = entry.path();
        if (file.extension() != ".png" || file.stem() == "proof") continue;
        passes.push_back({file.stem().string(), entry.file_size(), codes_of(file)});
    }
    std::sort(passes.begin(), passes.end(),
              [](const auto& a, const auto& b) { return a.name < b.name; });
    return passes;
}

}  // namespace bench
