// The PNGs themselves: PNG specification, third edition (W3C), chapters 5 and 11.

#include <algorithm>

#include "form_figures.hpp"
#include "form_scene.hpp"

namespace reference {
namespace {

using cli_test::Picture;

std::size_t place_of(const Picture& picture, const std::string& chunk) {
    const auto found = std::find(picture.chunks.begin(), picture.chunks.end(), chunk);
    return static_cast<std::size_t>(found - picture.chunks.begin());
}

// 5.6, table 7: IHDR first, IEND last, pHYs before the first IDAT, all IDAT in a row. 16 bits, grey
// or RGB; pHYs and tEXt there; nothing that says how to show the codes (11.3.2).
bool sound(const Picture& picture) {
    const auto& chunks = picture.chunks;
    const std::size_t first = place_of(picture, "IDAT");
    std::size_t end = first;
    while (end < chunks.size() && chunks[end] == "IDAT") ++end;
    bool good = picture.bits == 16 && picture.channels != 0 && first < chunks.size();
    good = good && chunks.front() == "IHDR" && chunks.back() == "IEND";
    good = good && std::count(chunks.begin(), chunks.end(), "IDAT") ==
                       static_cast<std::ptrdiff_t>(end - first);
    good = good && place_of(picture, "pHYs") < first && picture.has_chunk("tEXt");
    for (const char* name : {"gAMA", "cHRM", "sRGB", "iCCP", "cICP", "sBIT", "mDCV", "cLLI"}) {
        good = good && !picture.has_chunk(name);
    }
    return good;
}

bool pngcheck_agrees(const fs::path& file) {
    if (cli_test::installed("pngcheck").empty()) return true;
    return cli_test::run({"pngcheck", "-q", file}).code == 0;
}

}  // namespace

std::vector<Figure> file_figures(const fs::path& folder) {
    const fs::path scene = folder / "files.toml";
    cli_test::write_ply(folder / "files.ply", cli_test::crooked());
    cli_test::SceneText text;
    text.model = "file = \"files.ply\"\nup = \"+y\"\n";
    text.passes =
        "[pass.depth]\n[pass.occlusion]\n[pass.curvature]\n[pass.silhouette]\n[pass.contour]\n"
        "[pass.normal]\n[pass.blank]\n[pass.parts]\nnames = [\"*\"]\n";
    cli_test::write_file(scene, text.text());
    const auto rendered = cli_test::render(scene, folder / "files");
    std::size_t files = 0, faults = 0, refused = 0;
    for (const auto& pass : rendered.manifest.at("passes")) {
        const fs::path file = rendered.folder / pass.at("file").get<std::string>();
        ++files;
        faults += !sound(cli_test::read_picture(file));
        refused += !pngcheck_agrees(file);
    }
    const std::string where = std::to_string(files) + " files";
    return {{"files", "PNGs with a fault in kind, chunks or their order, read with libspng",
             "PNG specification, third edition, 5.6 and 11.3", static_cast<double>(faults), 0.0,
             false, where},
            {"files", "PNGs that pngcheck refuses", "pngcheck", static_cast<double>(refused), 0.0,
             false, where}};
}

}  // namespace reference
