// Joining pose folders: what is one sweep, what is not, and what is written.

#include <doctest/doctest.h>

#include <cmath>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>

#include "error.hpp"
#include "poses/gallery.hpp"
#include "poses/pose_tile.hpp"

using namespace rakelight;
namespace fs = std::filesystem;

namespace {

class Folder {
public:
    Folder() {
        std::string name = (fs::temp_directory_path() / "rakelight-gallery-XXXXXX").string();
        REQUIRE(mkdtemp(name.data()) != nullptr);
        path_ = name;
    }
    ~Folder() { fs::remove_all(path_); }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;
    operator const fs::path&() const { return path_; }
    fs::path operator/(const std::string& name) const { return path_ / name; }

private:
    fs::path path_;
};

void write(const fs::path& path, const std::string& bytes) {
    fs::create_directories(path.parent_path());
    std::ofstream(path, std::ios::binary) << bytes;
}

std::string read(const fs::path& path) {
    std::ifstream stream(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(stream), {}};
}

void write_png(const fs::path& path, const Image8& image) {
    const auto file = encode_png8(image);
    write(path, {reinterpret_cast<const char*>(file.data()), file.size()});
}

PoseRecord record_of(std::size_t number, std::size_t of) {
    PoseRecord record;
    record.name = "pose" + std::to_string(number);
    record.number = number;
    record.of = of;
    record.scene = "medal";
    record.width_px = record.height_px = 40;
    record.px_per_mm = 1.0;
    record.files = {piece_file, surface_file};
    record.figures.field_share = 0.1 * static_cast<double>(number);
    return record;
}

void write_pose(const fs::path& sweep, const PoseRecord& record) {
    const fs::path folder = sweep / record.name;
    write(folder / pose_record_file, pose_record_text(record));
    if (!record.usable) return;
    Image8 relief(40, 40, 3);
    relief.codes[0] = static_cast<std::uint8_t>(record.number);
    write_png(folder / piece_file, relief);
    write_png(folder / surface_file, Image8(20, 100, 1));
}

void write_sweep(const fs::path& sweep, std::size_t of) {
    for (std::size_t i = 0; i < of; ++i) write_pose(sweep, record_of(i, of));
}

// The message of the Error that a gallery of these folders ends with; nothing is written.
std::string refusal(const std::vector<fs::path>& folders, ExitCode code = ExitCode::bad_scene,
                    const GalleryOptions& options = {}) {
    const Folder out;
    const fs::path to = out / "new";
    try {
        write_gallery(folders, options, to);
    } catch (const Error& error) {
        CHECK(error.code() == code);
        CHECK_FALSE(fs::exists(to));
        return error.what();
    }
    return "nothing was refused";
}

bool has(const std::string& text, const std::string& part) {
    return text.find(part) != std::string::npos;
}

std::vector<std::string> names_of(const WrittenGallery& gallery) {
    std::vector<std::string> names;
    for (const auto i : gallery.shown) names.push_back(gallery.joined.poses[i].record.name);
    return names;
}

}  // namespace

TEST_CASE("gallery: shards join to the bytes of the whole sweep, in any order and place") {
    const Folder whole, first, second, out_whole, out_joined;
    write_sweep(whole, 5);
    for (std::size_t i = 0; i < 5; ++i) write_pose(i % 2 == 0 ? first : second, record_of(i, 5));
    write_gallery({whole}, {}, out_whole);
    write_gallery({second, first / "pose4", first / "pose0", first / "pose2"}, {}, out_joined);
    for (const char* name : {"poses.json", "sheet.png", "gallery.html"}) {
        CAPTURE(name);
        CHECK(read(out_whole / name).size() > 100);
        CHECK(read(out_whole / name) == read(out_joined / name));
        CHECK_FALSE(has(read(out_whole / name), static_cast<const fs::path&>(whole).string()));
    }
}

TEST_CASE("gallery: poses.json has all figures of all poses, whatever is shown") {
    const Folder sweep;
    write_sweep(sweep, 4);
    GalleryOptions options;
    options.by = find_pose_figure("field_share");
    options.best = 2;
    const WrittenGallery gallery = write_gallery({sweep}, options, sweep);
    CHECK(names_of(gallery) == std::vector<std::string>{"pose3", "pose2"});
    const auto json = nlohmann::json::parse(read(sweep / "poses.json"));
    REQUIRE(json.at("poses").size() == 4);
    CHECK(json.at("poses")[1].at("name") == "pose1");
    CHECK(json.at("poses")[1].at("figures").at("field_share") == doctest::Approx(0.1));
    CHECK(json.at("poses")[1].at("figures").at("steep_share").is_null());
    CHECK(json.at("figures").size() == pose_figures().size());
    CHECK(json.at("missing").empty());
    const std::string page = read(sweep / "gallery.html");
    CHECK(has(page, "\"name\":\"pose3\""));
    CHECK_FALSE(has(page, "\"name\":\"pose1\""));
}

TEST_CASE("gallery: the better end first, equal ones by number, unknown ones last") {
    std::vector<JoinedPose> poses;
    const double depths[] = {3.0, PoseFigures::unknown, 1.0, 3.0, 2.0};
    for (std::size_t i = 0; i < 5; ++i) {
        poses.push_back({record_of(i, 5), {}});
        poses.back().record.figures.depth_mm = depths[i];
        poses.back().record.figures.field_share = depths[i];
    }
    const auto by = [&](const char* name, std::optional<std::size_t> most = {}) {
        return best_poses(poses, find_pose_figure(name), most);
    };
    CHECK(by("depth_mm") == std::vector<std::size_t>{2, 4, 0, 3, 1});  // low is better
    CHECK(by("field_share") == std::vector<std::size_t>{0, 3, 4, 2, 1});
    CHECK(by("depth_mm", 2) == std::vector<std::size_t>{2, 4});
    CHECK(by("depth_mm", 99).size() == 5);
    poses[2].record.usable = false;
    CHECK(by("depth_mm", 2) == std::vector<std::size_t>{4, 0});
    CHECK(best_poses(poses, nullptr, {}) == std::vector<std::size_t>{0, 1, 3, 4});
}

TEST_CASE("gallery: best without a figure is a wrong use") {
    const Folder sweep;
    write_sweep(sweep, 2);
    GalleryOptions options;
    options.best = 1;
    CHECK(has(refusal({sweep}, ExitCode::wrong_use, options), "without a figure"));
}

TEST_CASE("gallery: missing poses are named, or accepted as a part") {
    const Folder sweep, out;
    for (const std::size_t i : {1, 2, 4}) write_pose(sweep, record_of(i, 6));
    CHECK(has(refusal({sweep}), "found 3 of the 6 poses of \"medal\"; missing: 0, 3, 5 "));
    GalleryOptions options;
    options.completeness = Completeness::part;
    const WrittenGallery gallery = write_gallery({sweep}, options, out);
    CHECK(gallery.joined.missing == std::vector<std::size_t>{0, 3, 5});
    CHECK(gallery.shown.size() == 3);
}

TEST_CASE("gallery: a pose twice, of another sweep, or of no sweep") {
    const Folder sweep, other;
    write_sweep(sweep, 3);
    CHECK(has(refusal({sweep, sweep / "pose1"}), "number 1 a second time"));

    PoseRecord record = record_of(1, 3);
    record.scene = "tag";
    write_pose(other, record);
    CHECK(has(refusal({sweep, other}),
              "found a pose of \"tag\" with 3 poses; expected one of \"medal\" with 3 poses"));
    write_pose(other, record_of(1, 4));
    CHECK(has(refusal({sweep, other}), "\"medal\" with 4 poses"));
    record = record_of(1, 3);
    record.blank.rim_mm = 2.0;
    write_pose(other, record);
    CHECK(has(refusal({sweep, other}), "another blank"));
    write_pose(other, record_of(3, 3));
    CHECK(has(refusal({other / "pose3"}), "pose number 3 of 3"));

    const Folder twice;
    write_pose(twice, record_of(0, 2));
    record = record_of(1, 2);
    write_pose(twice, record);
    record.name = "pose0";
    write(twice / "pose1" / pose_record_file, pose_record_text(record));
    CHECK(has(refusal({twice}), "second pose of the name \"pose0\""));
}

TEST_CASE("gallery: no folder, no record, a spoilt record") {
    const Folder sweep, empty;
    CHECK(has(refusal({empty / "nowhere"}), "found no folder"));
    CHECK(has(refusal({empty}), "found no pose.json"));
    write_sweep(sweep, 2);
    const fs::path record = sweep / "pose1" / pose_record_file;
    const std::string whole = read(record);
    for (std::size_t size = 0; size < whole.size() - 2; size += 37) {
        write(record, whole.substr(0, size));
        CHECK(has(refusal({sweep}), record.string()));
    }
}

// RFC 8259 sets no bounds to numbers; a scene file does (docs/scene-file.md), and an int too.
TEST_CASE("gallery: numbers that no pose has are refused, not converted") {
    const Folder sweep;
    write_sweep(sweep, 2);
    const fs::path record = sweep / "pose1" / pose_record_file;
    const std::string whole = read(record);
    const auto with = [&](const std::string& key, const std::string& value) {
        const std::size_t at = whole.find("\"" + key + "\": ") + key.size() + 4;
        write(record, std::string(whole).replace(at, whole.find_first_of(",\n", at) - at, value));
        return refusal({sweep});
    };
    for (const char* key : {"number", "of", "width_px", "height_px"}) {
        CAPTURE(key);
        for (const char* value : {"1e300", "-1", "0.5", "99999999999", "\"1\"", "null"}) {
            CAPTURE(value);
            CHECK(has(with(key, value), record.string() + ": found no whole pose record"));
        }
    }
    for (const char* key : {"width_mm", "height_mm", "zoom"})
        CHECK(has(with(key, "0.0"), record.string() + ": found numbers that no pose has"));
    for (const char* key : {"width_mm", "height_mm", "rim_mm", "exergue_mm", "zoom"}) {
        CAPTURE(key);
        CHECK(has(with(key, "-1.0"), record.string() + ": found numbers that no pose has"));
        CHECK(has(with(key, "1e300"), record.string() + ": found numbers that no pose has"));
    }
}

TEST_CASE("gallery: a spoilt or missing picture, each named; nothing is half-written") {
    for (const char* name : {piece_file, surface_file}) {
        CAPTURE(name);
        const Folder sweep;
        write_sweep(sweep, 2);
        const fs::path picture = sweep / "pose1" / name;
        const std::string whole = read(picture);
        write(picture, whole.substr(0, whole.size() - 20));
        CHECK(has(refusal({sweep}), picture.string() + ": found a spoilt picture"));
        write(picture, "no picture");
        CHECK(has(refusal({sweep}), "it is no PNG file"));
        fs::remove(picture);
        CHECK(has(refusal({sweep}), picture.string() + ": found no picture"));
    }
    const Folder sweep;
    write_sweep(sweep, 1);
    write_png(sweep / "pose0" / surface_file, Image8(20, 101, 1));
    CHECK(has(refusal({sweep}), "another kind"));
}

TEST_CASE("gallery: unusable poses are told apart; a sweep of nothing else still has its files") {
    const Folder sweep;
    for (std::size_t i = 0; i < 2; ++i) {
        PoseRecord record = record_of(i, 2);
        record.usable = false;
        record.reason = "seen edge-on";
        write_pose(sweep, record);
    }
    const WrittenGallery gallery = write_gallery({sweep}, {}, sweep);
    CHECK(gallery.shown.empty());
    CHECK(has(read(sweep / "gallery.html"), "\"reason\":\"seen edge-on\""));
    CHECK(fs::exists(sweep / "sheet.png"));
}

TEST_CASE("gallery: no text of a record can end the page's script or stand for a mark") {
    const Folder sweep;
    PoseRecord record = record_of(0, 1);
    record.warnings = {"</script><script>bad()</script> @SCRIPT@ @SURFACES@"};
    record.scene = "<b>&@POSES@";
    write_pose(sweep, record);
    write_gallery({sweep}, {}, sweep);
    const std::string page = read(sweep / "gallery.html");
    CHECK_FALSE(has(page, "<script>bad"));
    CHECK_FALSE(has(page, "<b>&"));
    CHECK(has(page, "\\u003c/script>"));
    CHECK(has(page, "&lt;b&gt;&amp;@POSES@: poses"));
    CHECK(has(page, "@SCRIPT@ @SURFACES@\"]"));
    CHECK(has(page, "const light = "));
}

TEST_CASE("gallery: a pose for a scene file, and the command that locks it") {
    PoseRecord record = record_of(0, 1);
    record.pose.yaw_deg = 35.0;
    record.pose.pitch_deg = -7.25;
    CHECK(pose_snippet(record) == "[pose]\nyaw_deg = 35.0\npitch_deg = -7.25\nroll_deg = 0.0\n");
    CHECK(lock_command(record) == "rakelight lock medal.toml --pose pose0");
    record.pose.projection = Projection::perspective;
    record.pose.view_deg = 40.0;
    record.zoom = 1.5;
    CHECK(has(pose_snippet(record), "projection = \"perspective\"\nview_deg = 40.0\n"));
    CHECK(has(pose_snippet(record), "\n\n[framing]\nzoom = 1.5\n"));
    record.scene = "my medal";
    record.name = "-it's";
    CHECK(lock_command(record) == "rakelight lock 'my medal.toml' --pose='-it'\\''s'");
}

TEST_CASE("gallery: figures as people read them") {
    const PoseFigure& share = *find_pose_figure("field_share");
    const PoseFigure& mm = *find_pose_figure("depth_mm");
    CHECK(figure_text(share, 0.624) == "62 %");
    CHECK(figure_text(share, 0.031) == "3.1 %");
    CHECK(figure_text(share, 1.0) == "100 %");
    CHECK(figure_text(mm, 8.126) == "8.13 mm");
    CHECK(figure_text(mm, 12.34) == "12.3 mm");
    CHECK(figure_text(mm, -0.25) == "-0.25 mm");
    CHECK(figure_text(mm, PoseFigures::unknown) == "not known");
}
