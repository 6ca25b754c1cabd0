// A locked camera: the file around it stays as it was, and the picture stays where it was.

#include <cmath>
#include <cstdlib>

#include "pictures.hpp"
#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

const std::string medal =
    "# The club's medal\t for the field day  \n"
    "[blank]   # struck in bronze\n"
    "  width_mm  =  20.0\n"
    "rim_mm = 1.0\n\n\n"
    "[model]\nfile = 'model.ply'\nup = \"+y\"\n"
    "[pose]\nyaw_deg = 25\npitch_deg = -10.5\n"
    "[image]\npx_per_mm = 5\n"
    "[pass.depth]\n[pass.silhouette]\n";

std::string with_windows_line_ends(const std::string& text) {
    std::string out;
    for (const char c : text) out += c == '\n' ? std::string("\r\n") : std::string(1, c);
    return out;
}

void check_kept(const Place& place, const std::string& text) {
    const std::string file = place / "medal.toml";
    write_file(file, text);
    REQUIRE(rakelight({"lock", file}).code == 0);
    const std::string locked = read_file(file);
    CHECK(locked.rfind(text, 0) == 0);
    CHECK(contains(locked, "[locked]"));
    CHECK(rakelight({"check", file}).code == 0);
    CHECK(Json::parse(rakelight({"check", file, "--json"}).out).at(0).at("locked") == true);
    check_refused(rakelight({"lock", file}), 2, {"locked already", "--again"});
    CHECK(read_file(file) == locked);
    const Ended again = rakelight({"lock", file, "--again", "--json"});
    CHECK(again.code == 0);
    CHECK(Json::parse(again.out).at("changed") == false);
    CHECK(read_file(file) == locked);
}

std::size_t count(const std::string& text, const std::string& part) {
    std::size_t found = 0;
    for (std::size_t at = text.find(part); at != std::string::npos; at = text.find(part, at + 1)) {
        ++found;
    }
    return found;
}

struct LockedMedal {
    Place place;
    std::string file;
    Json camera;
    LockedMedal() {
        write_ply(place / "model.ply", crooked());
        file = place / "medal.toml";
        write_file(file, medal);
        REQUIRE(rakelight({"lock", file}).code == 0);
        camera = render(file, place / "at-first").manifest.at("camera");
    }
};

}  // namespace

TEST_SUITE_BEGIN("cli.lock");

TEST_CASE("lock keeps every other byte, whatever the line ends, and is refused a second time") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    check_kept(place, medal);
    check_kept(place, medal + "# the last word, without a line end");
    check_kept(place, with_windows_line_ends(medal));
    const std::string windows = read_file(place / "medal.toml");
    CHECK(count(windows, "\n") == count(windows, "\r\n"));
    check_kept(place, "\xef\xbb\xbf" + medal);  // a byte order mark
}

TEST_CASE("lock --again replaces the table in its place and nothing else") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    const std::string file = place / "medal.toml";
    write_file(file, "[pose]\nyaw_deg = 1\n");
    write_file(file, medal);
    REQUIRE(rakelight({"lock", file}).code == 0);
    const std::string table = read_file(file).substr(medal.size());
    const std::string before = "[pass.normal] # north\n\n" + table;
    const std::string after = "\n# after\n[output]\nfolder = \"pictures\"  \n";
    std::string text = medal + before + after;
    text.replace(text.find("yaw_deg = 25"), 12, "yaw_deg = 31");
    write_file(file, text);
    const Ended again = rakelight({"lock", file, "--again", "--json"});
    REQUIRE(again.code == 0);
    CHECK(Json::parse(again.out).at("changed") == true);
    const std::string now = read_file(file);
    CHECK(now != text);
    CHECK(now.substr(0, now.find("[locked]")) == text.substr(0, text.find("[locked]")));
    CHECK(now.substr(now.size() - after.size()) == after);
    CHECK(contains(rakelight({"check", file}).out, "locked"));
    CHECK(rakelight({"check", file}).err == "");
}

TEST_CASE("locking changes no picture") {
    for (const std::string pose :
         {"", "projection = \"perspective\"\nview_deg = 35\nroll_deg = 12\n"}) {
        const Place place;
        write_ply(place / "model.ply", crooked());
        const std::string file = place / "medal.toml";
        std::string text = medal;
        text.insert(text.find("[image]"), pose);
        write_file(file, text);
        const Rendered before = render(file, place / "before");
        REQUIRE(rakelight({"lock", file}).code == 0);
        const Rendered after = render(file, place / "after");
        CHECK(before.manifest.at("camera").at("locked") == false);
        CHECK(after.manifest.at("camera").at("locked") == true);
        CHECK(differences(snapshot(before.folder), snapshot(after.folder)) ==
              std::vector<std::string>{"manifest.json", "timings.json"});
    }
}

TEST_CASE("another resolution shows a locked scene in the same place") {
    const LockedMedal locked;
    const Rendered coarse =
        render(locked.file, locked.place / "coarse", {"--set", "image.px_per_mm=5"});
    const Rendered fine = render(locked.file, locked.place / "fine",
                                 {"--set", "image.px_per_mm=10", "--set", "image.samples=2"});
    const Json& a = coarse.manifest.at("subject");
    const Json& b = fine.manifest.at("subject");
    for (const char* key : {"low_mm", "high_mm"}) {
        for (int i = 0; i < 2; ++i) {
            CHECK(std::abs(a.at(key).at(i).get<double>() - b.at(key).at(i).get<double>()) < 1e-9);
        }
    }
    // Four samples a side of a coarse pixel, two of a fine one: the same places.
    const Picture one = read_picture(coarse.folder / "silhouette.png");
    const Picture four = read_picture(fine.folder / "silhouette.png");
    REQUIRE(four.width == 2 * one.width);
    double worst = 0.0;
    std::size_t edges = 0;
    for (int y = 0; y < one.height; ++y) {
        for (int x = 0; x < one.width; ++x) {
            double mean = 0.0;
            for (int k = 0; k < 4; ++k) mean += 0.25 * four.at(2 * x + k % 2, 2 * y + k / 2);
            worst = std::max(worst, std::abs(mean - one.at(x, y)));
            edges += one.at(x, y) > 0 && one.at(x, y) < 65535;
        }
    }
    CHECK(worst <= 1.0);  // half a code on either side
    CHECK(edges > 50);
}

TEST_CASE("a model that was replaced is warned of; the camera stays") {
    const LockedMedal locked;
    const double before =
        render(locked.file, locked.place / "same").manifest.at("subject").at("size_mm").at(0);
    write_ply(locked.place / "model.ply", moved(crooked(), glm::dmat3(1.1)));
    const Rendered larger = render(locked.file, locked.place / "larger");
    CHECK(contains(larger.ended.err, "not the one the camera was locked on"));
    CHECK(larger.manifest.at("camera") == locked.camera);
    // Single precision of the model's points, three digits short of this.
    CHECK(larger.manifest.at("subject").at("size_mm").at(0) ==
          doctest::Approx(1.1 * before).epsilon(1e-5));
    REQUIRE(rakelight({"lock", locked.file, "--again"}).code == 0);
    const Rendered fitted = render(locked.file, locked.place / "fitted");
    CHECK(fitted.ended.err == "");
    CHECK(fitted.manifest.at("subject").at("size_mm").at(0) ==
          doctest::Approx(before).epsilon(1e-5));
}

TEST_CASE("a pose, a blank or a framing that was edited after the lock is warned of") {
    const LockedMedal locked;
    const Snapshot before = snapshot(locked.place / "at-first");
    for (const std::string set : {"pose.yaw_deg=40", "framing.zoom=1.2", "model.up=+z"}) {
        CAPTURE(set);
        const Rendered edited = render(locked.file, locked.place / "edited", {"--set", set});
        CHECK(contains(edited.ended.err, "edited after the camera was locked"));
        CHECK(edited.manifest.at("camera") == locked.camera);
        CHECK(differences(before, snapshot(edited.folder)) ==
              std::vector<std::string>{"manifest.json", "timings.json"});
    }
    const Rendered same =
        render(locked.file, locked.place / "edited", {"--set", "pose.yaw_deg=25"});
    CHECK(same.ended.err == "");
}

TEST_CASE("a scene whose lock cannot be replaced line by line is refused") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    write_file(place / "medal.toml", "locked.eye_mm = 0.0\n" + medal);
    const Ended ended = rakelight({"lock", place / "medal.toml", "--again"});
    check_refused(ended, 3, {"medal.toml:1:1"});
    CHECK(read_file(place / "medal.toml") == "locked.eye_mm = 0.0\n" + medal);
}

TEST_SUITE_END();
