#include "image/proof.hpp"

#include <algorithm>
#include <array>
#include <cassert>
#include <cmath>
#include <cstdint>
#include <limits>
#include <sstream>

#include "error.hpp"
#include "image/area_reduction.hpp"
#include "image/png8.hpp"

#include <stb_easy_font.h>

namespace rakelight {
namespace {

// A neutral dark sheet: greys beside a picture must not tint it or outshine it.
constexpr std::uint8_t sheet_grey = 46;
constexpr std::uint8_t edge_grey = 74;  // a hairline, so that a black background has an end
constexpr std::uint8_t caption_grey = 176;
constexpr std::uint8_t title_grey = 226;
constexpr double most_sheet_px = 5.0e8;  // a gigabyte and a half of codes
constexpr int text_scale = 2;
constexpr int text_height = 8 * text_scale;  // from the top of capitals to their foot

struct Sheet {
    Image8 picture;

    Sheet(int w, int h) : picture(w, h, 3) {
        std::fill(picture.codes.begin(), picture.codes.end(), sheet_grey);
    }
    std::uint8_t* at(int x, int y) {
        return &picture.codes[(static_cast<std::size_t>(y) * picture.width + x) * 3];
    }
    void fill(int x0, int y0, int x1, int y1, std::uint8_t grey) {
        x0 = std::max(x0, 0);
        x1 = std::min(x1, picture.width);
        for (int y = std::max(y0, 0); y < std::min(y1, picture.height) && x0 < x1; ++y) {
            std::fill(at(x0, y), at(x0, y) + 3 * (x1 - x0), grey);
        }
    }
};

// ---- Text ----

/// The font has the printable ASCII characters alone.
std::string printable(std::string text) {
    for (char& letter : text) {
        if (letter < 32 || letter > 126) letter = '?';
    }
    return text;
}

int text_width(std::string text) {
    return stb_easy_font_width(text.data()) * text_scale;
}

/// Cuts a text to a width, with two dots for what is missing.
std::string shorten(const std::string& text, int width) {
    if (text_width(text) <= width) return text;
    std::string start = text;
    while (!start.empty() && text_width(start + "..") > width) start.pop_back();
    return start + "..";
}

/// Draws one line of text. The font gives rectangles one unit thick, four corners each.
void draw_text(Sheet& sheet, int x, int y, std::string text, std::uint8_t grey) {
    struct Corner {
        float x, y, z;
        std::array<unsigned char, 4> colour;
    };
    std::vector<Corner> corners(text.size() * 100 + 4);
    const int bytes = static_cast<int>(corners.size() * sizeof(Corner));
    const int quads = stb_easy_font_print(0.0F, 0.0F, text.data(), nullptr, corners.data(), bytes);
    for (int i = 0; i < quads; ++i) {
        const Corner& a = corners[static_cast<std::size_t>(i) * 4];
        const Corner& b = corners[static_cast<std::size_t>(i) * 4 + 2];
        const auto px = [](float units) { return static_cast<int>(units) * text_scale; };
        sheet.fill(x + px(a.x), y + px(a.y), x + px(b.x), y + px(b.y), grey);
    }
}

// ---- Panels ----

void draw_panel(Sheet& sheet, int x0, int y0, const Image16& image, PixelSize size) {
    sheet.fill(x0 - 1, y0 - 1, x0 + size.width + 1, y0 + size.height + 1, edge_grey);
    AreaReduction reduction(image.width, image.height, image.channels, size);
    reduction.add_rows(image.codes);
    const float* from = reduction.values().data();
    for (int y = 0; y < size.height; ++y) {
        std::uint8_t* to = sheet.at(x0, y0 + y);
        for (int x = 0; x < size.width; ++x, to += 3, from += image.channels) {
            for (int c = 0; c < 3; ++c) {
                const float code = from[image.channels == 1 ? 0 : c];
                to[c] = static_cast<std::uint8_t>(code / 257.0F + 0.5F);  // 65535 = 257 * 255
            }
        }
    }
}

void draw_caption(Sheet& sheet, int x, int foot, const std::string& caption, int width) {
    int top = foot + ProofLayout::caption_height - text_height;
    std::istringstream lines(caption);
    for (std::string line; std::getline(lines, line); top += ProofLayout::line_height)
        draw_text(sheet, x, top, shorten(printable(line), width), caption_grey);
}

// ---- The sheet ----

int sheet_width(int columns, int cell_width) {
    return 2 * ProofLayout::margin + columns * cell_width + (columns - 1) * ProofLayout::gap;
}

int sheet_height(int rows, const ProofLayout& cells) {
    return cells.top + rows * (cells.cell_height + cells.captions) + (rows - 1) * ProofLayout::gap +
           ProofLayout::margin;
}

/// The number of columns whose sheet is nearest to 3:2; of equals, the one with fewer rows.
int choose_columns(int panels, const ProofLayout& cells) {
    int best = 1;
    double best_distance = std::numeric_limits<double>::infinity();
    for (int columns = panels; columns >= 1; --columns) {
        const int rows = (panels + columns - 1) / columns;
        const double aspect =
            static_cast<double>(sheet_width(columns, cells.cell_width)) / sheet_height(rows, cells);
        const double distance = std::abs(std::log(aspect / 1.5));
        if (distance < best_distance) {
            best = columns;
            best_distance = distance;
        }
    }
    return best;
}

}  // namespace

ProofLayout lay_out_proof(const std::vector<ProofPanel>& panels, const std::string& title,
                          const ProofLook& look) {
    assert(!panels.empty() && look.panel_px > 0 && look.columns >= 0);
    ProofLayout layout;
    int more_lines = 0;
    for (const ProofPanel& panel : panels) {
        const PixelSize size = reduced_size(panel.image.width, panel.image.height, look.panel_px);
        layout.cell_width = std::max(layout.cell_width, size.width);
        layout.cell_height = std::max(layout.cell_height, size.height);
        const auto breaks = std::count(panel.caption.begin(), panel.caption.end(), '\n');
        more_lines = std::max(more_lines, static_cast<int>(breaks));
    }
    layout.captions = ProofLayout::caption_height + more_lines * ProofLayout::line_height;
    const int count = static_cast<int>(panels.size());
    layout.top = ProofLayout::margin + (title.empty() ? 0 : ProofLayout::title_height);
    layout.columns = look.columns > 0 ? look.columns : choose_columns(count, layout);
    layout.rows = (count + layout.columns - 1) / layout.columns;
    layout.width = sheet_width(layout.columns, layout.cell_width);
    layout.height = sheet_height(layout.rows, layout);
    return layout;
}

std::vector<std::byte> encode_proof(const std::vector<ProofPanel>& panels, const std::string& title,
                                    const ProofLook& look) {
    const ProofLayout layout = lay_out_proof(panels, title, look);
    if (static_cast<double>(layout.width) * layout.height > most_sheet_px) {
        throw Error(ExitCode::not_written, "a proof of " + std::to_string(layout.width) + " x " +
                                               std::to_string(layout.height) +
                                               " px is too large; show fewer or smaller panels");
    }
    Sheet sheet(layout.width, layout.height);
    const std::string heading = shorten(printable(title), layout.width - 2 * ProofLayout::margin);
    draw_text(sheet, ProofLayout::margin, ProofLayout::margin - 2, heading, title_grey);
    for (int i = 0; i < static_cast<int>(panels.size()); ++i) {
        const ProofPanel& panel = panels[static_cast<std::size_t>(i)];
        const PixelSize size = reduced_size(panel.image.width, panel.image.height, look.panel_px);
        const int column = i % layout.columns;
        const int row = i / layout.columns;
        const int x = ProofLayout::margin + column * (layout.cell_width + ProofLayout::gap);
        const int foot = layout.top + layout.cell_height +
                         row * (layout.cell_height + layout.captions + ProofLayout::gap);
        draw_panel(sheet, x + (layout.cell_width - size.width) / 2, foot - size.height, panel.image,
                   size);
        draw_caption(sheet, x, foot, panel.caption, layout.cell_width);
    }
    return encode_png8(sheet.picture, PngEffort::small);
}

}  // namespace rakelight
