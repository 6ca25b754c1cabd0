// The passes' PNG files: ours against libpng at its defaults, on the same codes.

#include <png.h>

#include <numeric>
#include <stdexcept>

#include "image/png.hpp"
#include "passes_read.hpp"

namespace bench {
namespace {

void append(png_structp png, png_bytep data, png_size_t size) {
    auto& bytes = *static_cast<std::vector<std::byte>*>(png_get_io_ptr(png));
    const auto* first = reinterpret_cast<const std::byte*>(data);
    bytes.insert(bytes.end(), first, first + size);
}

// What a program does that asks for nothing: libpng's own filters, level and strategy.
std::size_t libpng_bytes(const rakelight::Image16& image) {
    std::vector<std::byte> bytes;
    std::vector<png_bytep> rows(static_cast<std::size_t>(image.height));
    const std::size_t samples = static_cast<std::size_t>(image.width) * image.channels;
    for (std::size_t y = 0; y < rows.size(); ++y) {
        rows[y] = reinterpret_cast<png_bytep>(
            const_cast<std::uint16_t*>(image.codes.data() + y * samples));  // it only reads
    }
    png_structp png = png_create_write_struct(PNG_LIBPNG_VER_STRING, nullptr, nullptr, nullptr);
    png_infop info = png_create_info_struct(png);
    if (info == nullptr || setjmp(png_jmpbuf(png)) != 0) {
        throw std::runtime_error("libpng cannot write a pass");
    }
    png_set_write_fn(png, &bytes, append, [](png_structp) {});
    png_set_IHDR(png, info, static_cast<png_uint_32>(image.width),
                 static_cast<png_uint_32>(image.height), 16,
                 image.channels == 1 ? PNG_COLOR_TYPE_GRAY : PNG_COLOR_TYPE_RGB, PNG_INTERLACE_NONE,
                 PNG_COMPRESSION_TYPE_DEFAULT, PNG_FILTER_TYPE_DEFAULT);
    png_set_rows(png, info, rows.data());
    png_write_png(png, info, PNG_TRANSFORM_SWAP_ENDIAN, nullptr);
    png_destroy_write_struct(&png, &info);
    return bytes.size();
}

std::string whole(double bytes) {
    return std::to_string(static_cast<std::int64_t>(bytes));
}

struct Compared {
    std::string name;
    Runs ours, theirs;
    std::size_t our_bytes = 0, their_bytes = 0;
};

Compared compare(const WrittenPass& pass, int runs) {
    Compared result{pass.name, {}, {}, 0, 0};
    const auto both = in_turn(
        runs, {[&] {
                   return cost_here(
                       [&] { result.our_bytes = rakelight::encode_png(pass.codes, {}).size(); });
               },
               [&] { return cost_here([&] { result.their_bytes = libpng_bytes(pass.codes); }); }});
    result.ours = both[0];
    result.theirs = both[1];
    return result;
}

}  // namespace

void measure_png(Bench& bench) {
    Table table{"16-bit PNG, plane by plane",
                "Encoding in memory, each plane alone: median (least) of the runs, and bytes. "
                "Peer: libpng at its defaults.",
                {"plane", "ours", "libpng", "times faster, by wall", "by processor time",
                 "our bytes / libpng's"},
                {}};
    double ours_s = 0.0, theirs_s = 0.0, least_faster = 1e9, most_bytes = 0.0;
    double our_bytes = 0.0, their_bytes = 0.0;
    Json data = Json::array();
    for (const auto& pass : written_passes(bench.out())) {
        if (pass.name != "depth" && pass.name != "occlusion" && pass.name != "curvature" &&
            pass.name != "normal") {
            continue;
        }
        const Compared c = compare(pass, std::min(bench.sizes.runs, 3));
        const double faster = c.theirs.median_s() / c.ours.median_s();
        const double cpu = c.theirs.median_cpu_s() / c.ours.median_cpu_s();
        const double bytes = static_cast<double>(c.our_bytes) / static_cast<double>(c.their_bytes);
        table.rows.push_back({c.name, time_text(c.ours), time_text(c.theirs), text_of(faster),
                              text_of(cpu), text_of(bytes)});
        data.push_back({{"plane", c.name},
                        {"ours", c.ours.json()},
                        {"libpng", c.theirs.json()},
                        {"our_bytes", c.our_bytes},
                        {"libpng_bytes", c.their_bytes}});
        ours_s += c.ours.median_s();
        theirs_s += c.theirs.median_s();
        our_bytes += static_cast<double>(c.our_bytes);
        their_bytes += static_cast<double>(c.their_bytes);
        least_faster = std::min(least_faster, faster);
        most_bytes = std::max(most_bytes, bytes);
    }
    bench.report.keep("png", data);
    bench.report.add({"png", "encoding, libpng / ours", theirs_s / ours_s, "x", 3.0, true,
                      "depth, occlusion, curvature and normal together: " + time_text(ours_s) +
                          " against " + time_text(theirs_s) + "; the slowest plane " +
                          text_of(least_faster, "x")});
    bench.report.add({"png", "size, ours / libpng's", our_bytes / their_bytes, "x", 1.0, false,
                      "the same planes together, " + whole(our_bytes) + " bytes against " +
                          whole(their_bytes) + "; the largest plane " + std::to_string(most_bytes) +
                          " x"});
    bench.report.add(table);
}

}  // namespace bench
