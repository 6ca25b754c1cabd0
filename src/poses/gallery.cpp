#include "poses/gallery.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <nlohmann/json.hpp>
#include <span>
#include <string_view>

#include "error.hpp"
#include "image/area_reduction.hpp"
#include "image/output_set.hpp"
#include "page_sources.hpp"
#include "poses/pose_sheet.hpp"
#include "poses/pose_tile.hpp"
#include "share_work.hpp"

namespace rakelight {
namespace {

using Json = nlohmann::ordered_json;

constexpr int poses_version = 1;

std::string text_of(const Json& json, int indent) {
    return json.dump(indent, ' ', false, Json::error_handler_t::replace);
}

Json figures_table() {
    Json table = Json::array();
    for (const PoseFigure& figure : pose_figures()) {
        table.push_back({{"name", figure.name},
                         {"label", figure.label},
                         {"unit", figure.unit},
                         {"better", figure.better == Better::high ? "high" : "low"},
                         {"meaning", figure.meaning}});
    }
    return table;
}

std::string poses_text(const JoinedPoses& joined) {
    const PoseRecord& first = joined.poses.front().record;
    Json poses = Json::array();
    for (const JoinedPose& pose : joined.poses)
        poses.push_back(Json::parse(pose_record_text(pose.record)));
    return text_of({{"poses_version", poses_version},
                    {"scene", first.scene},
                    {"of", first.of},
                    {"missing", joined.missing},
                    {"figures", figures_table()},
                    {"poses", poses}},
                   2) +
           "\n";
}

// ---- The page ----

// RFC 4648, section 4.
std::string base64(const std::vector<std::byte>& bytes) {
    static constexpr std::string_view letters =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    std::string text;
    text.reserve((bytes.size() + 2) / 3 * 4);
    for (std::size_t i = 0; i < bytes.size(); i += 3) {
        const std::size_t count = std::min<std::size_t>(3, bytes.size() - i);
        std::uint32_t group = 0;
        for (std::size_t k = 0; k < 3; ++k)
            group = group << 8 | (k < count ? std::to_integer<std::uint32_t>(bytes[i + k]) : 0U);
        for (std::size_t k = 0; k < 4; ++k)
            text += k <= count ? letters[group >> (18 - 6 * k) & 63] : '=';
    }
    return text;
}

// JSON that may stand in a script element: no "<" can end or open anything there.
std::string script_json(const Json& json) {
    std::string safe;
    for (const char letter : text_of(json, -1))
        safe += letter == '<' ? std::string("\\u003c") : std::string(1, letter);
    return safe;
}

std::string html_text(const std::string& text) {
    std::string safe;
    for (const char letter : text) {
        switch (letter) {
            case '&':
                safe += "&amp;";
                break;
            case '<':
                safe += "&lt;";
                break;
            case '>':
                safe += "&gt;";
                break;
            default:
                safe += letter;
        }
    }
    return safe;
}

Json shown_figures(const PoseFigures& figures) {
    Json values = Json::array();
    for (const PoseFigure& figure : pose_figures()) {
        const double value = figures.*figure.value;
        values.push_back(
            {std::isfinite(value) ? Json(value) : Json(nullptr), figure_text(figure, value)});
    }
    return values;
}

// The highest code of a height in widths of the picture, for the lengths of shadows.
double peak_in_widths(const PoseRecord& record) {
    return record.peak_mm * record.px_per_mm / std::max(record.width_px, 1);
}

Json page_pose(const PoseRecord& record, PixelSize surface) {
    return {{"name", record.name},
            {"number", record.number},
            {"width", surface.width},
            {"height", surface.height},
            {"peak", peak_in_widths(record)},
            {"figures", shown_figures(record.figures)},
            {"warnings", record.warnings},
            {"snippet", pose_snippet(record)},
            {"lock", lock_command(record)}};
}

/// The surface's size, after a look at all of it.
PixelSize surface_size(const JoinedPose& pose) {
    const Image8 image = read_pose_picture(pose, surface_file).image;
    if (image.channels == 1 && image.height % 5 == 0) return {image.width, image.height / 5};
    throw Error(ExitCode::bad_scene,
                (pose.folder / surface_file).string() +
                    ": found a picture of another kind; expected five grey planes under each "
                    "other: run `rakelight poses` again on that folder");
}

Json page_data(const WrittenGallery& gallery, const GalleryOptions& options) {
    const auto& poses = gallery.joined.poses;
    const PoseRecord& first = poses.front().record;
    Json unusable = Json::array();
    for (const JoinedPose& pose : poses) {
        if (!pose.record.usable)
            unusable.push_back({{"name", pose.record.name}, {"reason", pose.record.reason}});
    }
    return {{"scene", first.scene},
            {"of", first.of},
            {"missing", gallery.joined.missing},
            {"by", options.by == nullptr ? "" : std::string(options.by->name)},
            {"limited", options.best.has_value()},
            {"figures", figures_table()},
            {"unusable", unusable},
            {"poses", Json::array()}};
}

using TextSink = std::function<void(std::string_view)>;

// A piece of the page in the place of a mark.
struct Piece {
    std::string_view mark;
    std::function<void(const TextSink&)> write;
};

Piece fixed(std::string_view mark, std::string text) {
    return {mark, [text = std::move(text)](const TextSink& sink) { sink(text); }};
}

// The template's marks are replaced once each, from the top, so that no text of a pose is taken
// for one.
void fill(std::string_view page, const std::vector<Piece>& pieces, const TextSink& sink) {
    for (const Piece& piece : pieces) {
        const std::size_t at = page.find(piece.mark);
        sink(page.substr(0, at));
        piece.write(sink);
        page.remove_prefix(at + piece.mark.size());
    }
    sink(page);
}

Json all_page_data(const WrittenGallery& gallery, const GalleryOptions& options) {
    Json data = page_data(gallery, options);
    const auto pose = [&](std::size_t n) -> const JoinedPose& {
        return gallery.joined.poses[gallery.shown[n]];
    };
    std::vector<PixelSize> sizes(gallery.shown.size());
    share_work(sizes.size(), machine_threads(),
               [&](std::size_t n) { sizes[n] = surface_size(pose(n)); });
    for (std::size_t n = 0; n < sizes.size(); ++n)
        data["poses"].push_back(page_pose(pose(n).record, sizes[n]));
    return data;
}

// One at a time, however many there are.
void write_surfaces(const WrittenGallery& gallery, const TextSink& sink) {
    std::size_t number = 0;
    for (const std::size_t i : gallery.shown) {
        sink("<script type=\"text/plain\" id=\"surface" + std::to_string(number++) + "\">");
        sink(base64(read_pose_file(gallery.joined.poses[i], surface_file)));
        sink("</script>\n");
    }
}

void write_page(OutputSet& outputs, const WrittenGallery& gallery, const GalleryOptions& options) {
    const auto file = outputs.open("gallery.html");
    fill(page_sources::gallery_html,
         {fixed("@TITLE@", html_text(gallery.joined.poses.front().record.scene)),
          fixed("@STYLE@", page_sources::gallery_css),
          fixed("@POSES@", script_json(all_page_data(gallery, options))),
          {"@SURFACES@", [&](const TextSink& sink) { write_surfaces(gallery, sink); }},
          fixed("@LIGHT@", page_sources::light_js),
          fixed("@SCRIPT@", page_sources::gallery_js)},
         [&](std::string_view text) { file->write(std::as_bytes(std::span(text))); });
    file->close();
}

// A number as TOML's float: with a point or an exponent.
std::string toml_float(double value) {
    std::string text = Json(value + 0.0).dump();
    return text.find_first_of(".e") == std::string::npos ? text + ".0" : text;
}

// For a POSIX shell.
std::string shell_word(const std::string& word) {
    constexpr std::string_view plain =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789._-+,/";
    if (!word.empty() && word.find_first_not_of(plain) == std::string::npos) return word;
    std::string quoted = "'";
    for (const char letter : word)
        quoted += letter == '\'' ? std::string("'\\''") : std::string(1, letter);
    return quoted + "'";
}

}  // namespace

std::string pose_snippet(const PoseRecord& record) {
    std::string text = "[pose]\nyaw_deg = " + toml_float(record.pose.yaw_deg) +
                       "\npitch_deg = " + toml_float(record.pose.pitch_deg) +
                       "\nroll_deg = " + toml_float(record.pose.roll_deg) + "\n";
    if (record.pose.projection == Projection::perspective)
        text +=
            "projection = \"perspective\"\nview_deg = " + toml_float(record.pose.view_deg) + "\n";
    if (record.zoom != 1.0) text += "\n[framing]\nzoom = " + toml_float(record.zoom) + "\n";
    return text;
}

std::string lock_command(const PoseRecord& record) {
    const bool like_an_option = record.name.starts_with("-");
    return "rakelight lock " + shell_word(record.scene + ".toml") +
           (like_an_option ? " --pose=" : " --pose ") + shell_word(record.name);
}

WrittenGallery write_gallery(const std::vector<std::filesystem::path>& folders,
                             const GalleryOptions& options,
                             const std::filesystem::path& out_folder) {
    if (options.best && options.by == nullptr)
        throw Error(ExitCode::wrong_use,
                    "found a number of best poses without a figure; expected the figure that they "
                    "are best by, too");
    WrittenGallery gallery;
    gallery.joined = join_poses(folders, options.completeness);
    gallery.shown = best_poses(gallery.joined.poses, options.by, options.best);
    OutputSet outputs(out_folder);
    outputs.add("sheet.png", pose_sheet(gallery.joined.poses, gallery.shown, options.by));
    write_page(outputs, gallery, options);
    outputs.add("poses.json", poses_text(gallery.joined));
    outputs.commit({"poses.json"});
    gallery.files = {"sheet.png", "gallery.html", "poses.json"};
    return gallery;
}

}  // namespace rakelight
