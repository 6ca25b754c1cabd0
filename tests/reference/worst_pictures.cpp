#include "worst_pictures.hpp"

#include <spng.h>

#include <algorithm>
#include <cmath>
#include <memory>

namespace reference {
namespace {

constexpr int every_px = 2;
constexpr double background = 0.15;

struct Panel {
    const std::vector<double>* values;
    double scale, offset;  // to 0 for black, 1 for white
};

// The part of the picture in which something was compared, in steps of every_px.
struct Box {
    int x0 = 1 << 30, y0 = 1 << 30, x1 = -1, y1 = -1;
};

Box compared(const Maps& maps, const std::vector<double>& values) {
    Box box;
    for (int y = 0; y < maps.height; ++y) {
        for (int x = 0; x < maps.width; ++x) {
            if (std::isnan(values[static_cast<std::size_t>(y) * maps.width + x])) continue;
            box = {std::min(box.x0, x), std::min(box.y0, y), std::max(box.x1, x),
                   std::max(box.y1, y)};
        }
    }
    return box;
}

std::vector<std::uint8_t> side_by_side(const Maps& maps, const Box& box,
                                       const std::vector<Panel>& panels) {
    std::vector<std::uint8_t> grey;
    for (int y = box.y0; y <= box.y1; y += every_px) {
        for (const auto& panel : panels) {
            for (int x = box.x0; x <= box.x1; x += every_px) {
                const double value = (*panel.values)[static_cast<std::size_t>(y) * maps.width + x];
                const double shade =
                    std::isnan(value) ? background : value * panel.scale + panel.offset;
                grey.push_back(
                    static_cast<std::uint8_t>(std::lround(255.0 * std::clamp(shade, 0.0, 1.0))));
            }
        }
    }
    return grey;
}

void write_grey(const fs::path& file, std::uint32_t width, std::uint32_t height,
                const std::vector<std::uint8_t>& grey) {
    const std::unique_ptr<spng_ctx, void (*)(spng_ctx*)> png(spng_ctx_new(SPNG_CTX_ENCODER),
                                                             spng_ctx_free);
    spng_set_option(png.get(), SPNG_ENCODE_TO_BUFFER, 1);
    spng_ihdr header{};
    header.width = width;
    header.height = height;
    header.bit_depth = 8;
    header.color_type = SPNG_COLOR_TYPE_GRAYSCALE;
    spng_set_ihdr(png.get(), &header);
    int failed =
        spng_encode_image(png.get(), grey.data(), grey.size(), SPNG_FMT_PNG, SPNG_ENCODE_FINALIZE);
    std::size_t size = 0;
    const std::unique_ptr<void, void (*)(void*)> bytes(
        failed == 0 ? spng_get_png_buffer(png.get(), &size, &failed) : nullptr, std::free);
    if (failed != 0) throw std::runtime_error(spng_strerror(failed));
    cli_test::write_file(file, {static_cast<const char*>(bytes.get()), size});
}

}  // namespace

std::string write_worst(const View& view, const std::string& which, const fs::path& folder) {
    Maps maps;
    compare(view, folder / "views", {every_px, which != "depth"}, &maps);
    const auto& values = which == "depth" ? maps.depth_codes : maps.occlusion;
    const auto& traced = which == "whole" ? maps.whole : maps.height_surface;
    std::vector<double> difference(values.size());
    for (std::size_t i = 0; i < values.size(); ++i) difference[i] = values[i] - traced[i];
    const Box box = compared(maps, values);
    if (box.x1 < 0) throw std::runtime_error("nothing was compared");
    std::vector<Panel> panels{
        {&maps.occlusion, 1.0, 0.0}, {&traced, 1.0, 0.0}, {&difference, 2.0, 0.5}};
    std::string name = "occlusion-" + which + "-" + view.name() + "-pass-traced-difference-x2.png";
    if (which == "depth") {
        panels = {{&maps.depth_codes, 0.5, 0.5}};
        name = "depth-" + view.name() + "-difference-black-to-white-2-codes.png";
    }
    const auto columns = static_cast<std::uint32_t>((box.x1 - box.x0) / every_px + 1);
    const auto rows = static_cast<std::uint32_t>((box.y1 - box.y0) / every_px + 1);
    write_grey(folder / name, columns * static_cast<std::uint32_t>(panels.size()), rows,
               side_by_side(maps, box, panels));
    return name;
}

}  // namespace reference
