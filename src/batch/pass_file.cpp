#include "batch/pass_file.hpp"

#include <cstdio>

#include "image/proof.hpp"
#include "version.hpp"

namespace rakelight {
namespace {

std::string number_text(double value) {
    char text[32];
    std::snprintf(text, sizeof text, "%.17g", value);
    return text;
}

// The PNG's own words: which pass it is, how to read it, and the numbers of its encoding.
PngInfo png_info(const Picture& picture, double px_per_mm) {
    std::string numbers;
    for (const auto& [name, value] : picture.numbers) {
        numbers += (numbers.empty() ? "" : "; ") + name + " = " + number_text(value);
    }
    return {px_per_mm * 1000.0,
            {{"Title", picture.name},
             {"Software", std::string("rakelight ") + version},
             {"Description", picture.meaning},
             {"Encoding", picture.encoding},
             {"Encoding numbers", numbers}}};
}

}  // namespace

void PassFile::open(const Picture& picture) {
    const ImageGrid& grid = place_.grid;
    file_ = place_.outputs.open(picture.file);
    png_.emplace(PngSize{grid.width, grid.height, picture.channels},
                 png_info(picture, grid.px_per_mm),
                 [this](std::span<const std::byte> bytes) { file_->write(bytes); });
    if (!place_.proof) return;
    const PixelSize size = reduced_size(grid.width, grid.height, ProofLook{}.panel_px);
    reduction_.emplace(grid.width, grid.height, picture.channels, size);
}

void PassFile::add_rows(const Picture& picture, std::span<const std::uint16_t> codes) {
    if (!png_) open(picture);
    png_->add_rows(codes);
    if (reduction_) reduction_->add_rows(codes);
}

void PassFile::close() {
    png_->finish();
    file_->close();
}

std::optional<Image16> PassFile::panel() const {
    if (!reduction_) return std::nullopt;
    return reduction_->image();
}

}  // namespace rakelight
