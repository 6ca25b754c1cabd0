#include "pictures.hpp"

#include <spng.h>
#include <tiffio.h>
#include <cstring>

#include <algorithm>
#include <memory>

namespace cli_test {
namespace {

std::vector<std::string> chunk_names(const std::string& file) {
    std::vector<std::string> names;
    for (std::size_t at = 8; at + 12 <= file.size();) {
        std::uint32_t size = 0;
        for (std::size_t i = 0; i < 4; ++i) {
            size = (size << 8) | static_cast<unsigned char>(file[at + i]);
        }
        names.push_back(file.substr(at + 4, 4));
        at += 12 + size;
    }
    return names;
}

}  // namespace

bool Picture::has_chunk(const std::string& name) const {
    return std::find(chunks.begin(), chunks.end(), name) != chunks.end();
}

Picture read_picture(const std::filesystem::path& file, int bits) {
    const std::string bytes = read_file(file);
    const std::unique_ptr<spng_ctx, void (*)(spng_ctx*)> png(spng_ctx_new(0), spng_ctx_free);
    INFO(file.string());
    REQUIRE(spng_set_png_buffer(png.get(), bytes.data(), bytes.size()) == 0);
    spng_ihdr header{};
    REQUIRE(spng_get_ihdr(png.get(), &header) == 0);
    Picture picture;
    picture.width = static_cast<int>(header.width);
    picture.height = static_cast<int>(header.height);
    picture.bits = header.bit_depth;
    if (header.color_type == SPNG_COLOR_TYPE_GRAYSCALE) picture.channels = 1;
    if (header.color_type == SPNG_COLOR_TYPE_TRUECOLOR) picture.channels = 3;
    REQUIRE(picture.bits == bits);
    std::size_t size = 0;
    REQUIRE(spng_decoded_image_size(png.get(), SPNG_FMT_PNG, &size) == 0);  // host byte order
    std::vector<unsigned char> decoded(size);
    REQUIRE(spng_decode_image(png.get(), decoded.data(), size, SPNG_FMT_PNG, 0) == 0);
    if (bits == 16) {
        picture.codes.resize(size / 2);
        std::memcpy(picture.codes.data(), decoded.data(), size);
    } else {
        picture.codes.assign(decoded.begin(), decoded.end());
    }
    spng_phys resolution{};
    if (spng_get_phys(png.get(), &resolution) == 0 && resolution.unit_specifier == 1) {
        picture.px_per_m_x = resolution.ppu_x;
        picture.px_per_m_y = resolution.ppu_y;
    }
    picture.chunks = chunk_names(bytes);
    return picture;
}

Floats read_float_tiff(const std::filesystem::path& file) {
    const std::unique_ptr<TIFF, void (*)(TIFF*)> tiff(TIFFOpen(file.c_str(), "r"), TIFFClose);
    REQUIRE(tiff);
    std::uint16_t bits = 0, format = 0, unit = 0;
    float resolution = 0.0F;
    Floats floats;
    TIFFGetField(tiff.get(), TIFFTAG_IMAGEWIDTH, &floats.width);
    TIFFGetField(tiff.get(), TIFFTAG_IMAGELENGTH, &floats.height);
    TIFFGetField(tiff.get(), TIFFTAG_BITSPERSAMPLE, &bits);
    TIFFGetField(tiff.get(), TIFFTAG_SAMPLEFORMAT, &format);
    TIFFGetField(tiff.get(), TIFFTAG_RESOLUTIONUNIT, &unit);
    TIFFGetField(tiff.get(), TIFFTAG_XRESOLUTION, &resolution);
    REQUIRE(bits == 32);
    REQUIRE(format == SAMPLEFORMAT_IEEEFP);
    REQUIRE(unit == RESUNIT_CENTIMETER);
    floats.px_per_cm = double{resolution};
    floats.values.resize(static_cast<std::size_t>(floats.width * floats.height));
    for (int y = 0; y < floats.height; ++y)
        REQUIRE(TIFFReadScanline(tiff.get(),
                                 &floats.values[static_cast<std::size_t>(y * floats.width)],
                                 static_cast<std::uint32_t>(y)) == 1);
    return floats;
}

DepthReader::DepthReader(const Json& numbers)
    : near_mm_(numbers.at("near_mm")),
      far_mm_(numbers.at("far_mm")),
      near_margin_(numbers.at("near_margin")),
      far_margin_(numbers.at("far_margin")),
      mm_per_code_(numbers.at("mm_per_code")) {}

double DepthReader::depth_mm(double code) const {
    return far_mm_ - (code / 65535.0 - far_margin_) * (far_mm_ - near_mm_) /
                         (1.0 - near_margin_ - far_margin_);
}

ManifestCamera::ManifestCamera(const Json& manifest) {
    const Json& camera = manifest.at("camera");
    const Json& view = camera.at("view_mm_from_model");
    const Json& pixel = camera.at("pixel_from_view_mm");
    REQUIRE(view.size() == 4);
    REQUIRE(pixel.size() == 3);
    for (int row = 0; row < 4; ++row) {
        for (int column = 0; column < 4; ++column) {
            view_from_model_[column][row] = view[row][column];
            if (row < 3) pixel_[row][column] = pixel[row][column];
        }
    }
    model_from_view_ = glm::inverse(view_from_model_);
}

// (u, v) = (row0 . p / row2 . p, row1 . p / row2 . p) for p = (x, y, z, 1): two planes, whose x and
// y at z = 0 and at z = 1 give the line.
Sight ManifestCamera::sight_in_view(double u, double v) const {
    const auto place = [&](double z) {
        double a[2][3];
        for (int i = 0; i < 2; ++i) {
            const double target = i == 0 ? u : v;
            const auto entry = [&](int c) { return pixel_[i][c] - target * pixel_[2][c]; };
            a[i][0] = entry(0);
            a[i][1] = entry(1);
            a[i][2] = -(entry(2) * z + entry(3));
        }
        const double determinant = a[0][0] * a[1][1] - a[0][1] * a[1][0];
        return glm::dvec3((a[0][2] * a[1][1] - a[0][1] * a[1][2]) / determinant,
                          (a[0][0] * a[1][2] - a[0][2] * a[1][0]) / determinant, z);
    };
    return {place(0.0), place(1.0) - place(0.0)};
}

glm::dvec2 ManifestCamera::pixel(glm::dvec3 view_mm) const {
    const auto row = [&](int i) {
        return pixel_[i][0] * view_mm.x + pixel_[i][1] * view_mm.y + pixel_[i][2] * view_mm.z +
               pixel_[i][3];
    };
    return {row(0) / row(2), row(1) / row(2)};
}

Sight ManifestCamera::sight(double u, double v) const {
    const Sight view = sight_in_view(u, v);
    return {glm::dvec3(model_from_view_ * glm::dvec4(view.at, 1.0)),
            glm::dvec3(model_from_view_ * glm::dvec4(view.along, 0.0))};
}

}  // namespace cli_test
