// Sizes, kinds and chunks of the pictures, against docs/passes.md, the PNG specification (third
// edition), libspng and pngcheck; the codes outside of the subject and at the ends of the range.

#include <cmath>

#include "pictures.hpp"
#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

const char* const all_passes =
    "[pass.depth]\n[pass.occlusion]\nreach_mm = 1.5\n[pass.curvature]\n[pass.silhouette]\n"
    "[pass.contour]\n[pass.normal]\n[pass.blank]\n[pass.undercut]\n[pass.steep]\n[pass.parts]"
    "\nnames = [\"*\"]\n";

struct BlankCase {
    const char* blank;
    double width_mm, height_mm, rim_mm;
};

const std::vector<BlankCase> blanks{
    {"shape = \"round\"\nwidth_mm = 20.25\nrim_mm = 1.1\n", 20.25, 20.25, 1.1},
    {"shape = \"oval\"\nwidth_mm = 24.0\nheight_mm = 17.7\nrim_mm = 0.9\n", 24.0, 17.7, 0.9},
    {"shape = \"rectangle\"\nwidth_mm = 18.4\nheight_mm = 25.0\nrim_mm = 2.0\n"
     "corner_radius_mm = 3.0\n",
     18.4, 25.0, 2.0},
    {"shape = \"tag\"\nwidth_mm = 15.0\nheight_mm = 25.0\nrim_mm = 1.2\nexergue_mm = 4.0\n"
     "hole = { diameter_mm = 3.0, from_top_mm = 4.0 }\n",
     15.0, 25.0, 1.2},
};

void check_kind(const Picture& picture, double px_per_mm, int channels) {
    CHECK(picture.bits == 16);
    CHECK(picture.channels == channels);
    CHECK(picture.px_per_m_x == std::round(px_per_mm * 1000.0));
    CHECK(picture.px_per_m_y == picture.px_per_m_x);
    for (const std::string name :
         {"gAMA", "sRGB", "iCCP", "cICP", "cHRM", "tIME", "tRNS", "bKGD"}) {
        CHECK_FALSE_MESSAGE(picture.has_chunk(name), name);
    }
    CHECK(picture.has_chunk("tEXt"));
    CHECK(picture.chunks.front() == "IHDR");
    CHECK(picture.chunks.back() == "IEND");
}

void check_with_pngcheck(const fs::path& folder) {
    if (installed("pngcheck").empty()) {
        MESSAGE("pngcheck is not installed");
        return;
    }
    for (const auto& entry : fs::directory_iterator(folder)) {
        if (entry.path().extension() != ".png") continue;
        const Ended ended = run({"pngcheck", "-v", entry.path()});
        CHECK_MESSAGE(ended.code == 0, ended.out);
        CHECK(contains(ended.out, "No errors detected"));
    }
}

}  // namespace

TEST_SUITE_BEGIN("cli.passes");

TEST_CASE("every blank and cover: sizes are round(mm px), files are linear 16-bit PNGs") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    for (const auto& one : blanks) {
        for (const bool field : {false, true}) {
            CAPTURE(std::string(one.blank));
            CAPTURE(field);
            constexpr double px_per_mm = 7.3;
            SceneText scene;
            scene.blank = one.blank;
            scene.image =
                std::string("px_per_mm = 7.3\ncovers = ") + (field ? "\"field\"\n" : "\"blank\"\n");
            scene.passes = all_passes;
            const Rendered rendered = render(place, scene);
            const double less = field ? 2.0 * one.rim_mm : 0.0;
            const auto width = static_cast<int>(std::lround((one.width_mm - less) * px_per_mm));
            const auto height = static_cast<int>(std::lround((one.height_mm - less) * px_per_mm));
            std::size_t count = 0;
            for (const auto& pass : rendered.manifest.at("passes")) {
                const std::string file = pass.at("file");
                CAPTURE(file);
                const Picture picture = read_picture(rendered.folder / file);
                CHECK(picture.width == width);
                CHECK(picture.height == height);
                check_kind(picture, px_per_mm, file == "normal.png" ? 3 : 1);
                CHECK(pass.at("channels") == picture.channels);
                ++count;
            }
            const bool tag = contains(one.blank, "tag");
            CHECK(count == (tag ? 14U : 12U));  // six, one part, blank and its regions
            CHECK(rendered.manifest.at("image").at("width_px") == width);
            CHECK(rendered.manifest.at("image").at("height_px") == height);
            CHECK(snapshot(rendered.folder).size() == count + 2);  // and the two texts
            check_with_pngcheck(rendered.folder);
        }
    }
}

TEST_CASE("no table of passes makes the usual ones, and a proof that a viewer can open") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    SceneText scene;
    scene.passes = "";
    write_file(place / "scene.toml", scene.text());
    REQUIRE(rakelight({"render", place / "scene.toml"}).code == 0);
    for (const std::string name : {"depth", "occlusion", "curvature", "silhouette", "contour",
                                   "normal", "blank", "blank-field", "blank-rim", "proof"}) {
        CHECK_MESSAGE(fs::exists(place / ("scene-passes/" + std::string(name) + ".png")), name);
    }
    check_with_pngcheck(place / "scene-passes");
}

TEST_CASE("outside of the subject every pass has its code of the contract") {
    const Place place;
    write_obj(place / "model.obj", crooked(),
              moved(box({-1, -1, -1}, {1, 1, 1}), glm::dmat3(1.0), {-6.0, 5.0, 0.0}));
    SceneText scene;
    scene.model = "file = \"model.obj\"\nup = \"+y\"\n";
    scene.passes = all_passes;
    const Rendered rendered = render(place, scene);
    const auto read = [&](const std::string& name) {
        return read_picture(rendered.folder / (name + ".png"));
    };
    const Picture silhouette = read("silhouette");
    const Picture contour = read("contour");
    const std::vector<std::pair<std::string, int>> codes{{"depth", 0},
                                                         {"occlusion", 65535},
                                                         {"curvature", 32768},
                                                         {"part-shell", 0},
                                                         {"part-stand", 0}};
    std::size_t outside = 0;
    std::vector<Picture> pictures;
    for (const auto& code : codes) pictures.push_back(read(code.first));
    const Picture normal = read("normal");
    std::map<std::string, int> wrong;
    for (int y = 0; y < silhouette.height; ++y) {
        for (int x = 0; x < silhouette.width; ++x) {
            if (silhouette.at(x, y) > 0) continue;
            ++outside;
            for (std::size_t i = 0; i < codes.size(); ++i) {
                wrong[codes[i].first] += pictures[i].at(x, y) != codes[i].second;
            }
            wrong["normal"] += normal.at(x, y, 0) != 32768 || normal.at(x, y, 1) != 32768 ||
                               normal.at(x, y, 2) != 65535;
        }
    }
    for (const auto& [name, count] : wrong) CHECK_MESSAGE(count == 0, name);
    CHECK(outside > 20000);
    // A line reaches half a pixel beyond the outline: two pixels away there is none.
    CHECK(contour.at(0, 0) == 0);
    CHECK(contour.at(silhouette.width - 1, silhouette.height / 2) == 0);
    CHECK(*std::max_element(contour.codes.begin(), contour.codes.end()) > 60000);
}

TEST_CASE("depth: 0 exactly outside, the extremes at the margins, strictly between inside") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    struct Margins {
        double near, far;
    };
    for (const Margins m : {Margins{0.01, 0.01}, Margins{0.1, 0.25}, Margins{0.0003, 0.003}}) {
        for (const std::string projection : {"parallel", "perspective"}) {
            SceneText scene;
            scene.pose =
                std::string("yaw_deg = 17\npitch_deg = 31\nprojection = \"") + projection + "\"\n";
            scene.passes =
                "[pass.silhouette]\n[pass.depth]\nnear_margin = " + std::to_string(m.near) +
                "\nfar_margin = " + std::to_string(m.far) + "\n";
            const Rendered rendered = render(place, scene);
            const Picture depth = read_picture(rendered.folder / "depth.png");
            const Picture silhouette = read_picture(rendered.folder / "silhouette.png");
            int low = 65535, high = 0;
            std::size_t mismatches = 0, inside = 0;
            for (std::size_t i = 0; i < depth.codes.size(); ++i) {
                mismatches += (depth.codes[i] == 0) != (silhouette.codes[i] == 0);
                if (silhouette.codes[i] == 0) continue;
                ++inside;
                low = std::min<int>(low, depth.codes[i]);
                high = std::max<int>(high, depth.codes[i]);
            }
            CHECK(mismatches == 0);
            CHECK(inside > 5000);
            CHECK(low > 0);
            CHECK(high < 65535);
            CHECK(high == std::lround(65535.0 * (1.0 - m.near)));
            CHECK(low == std::lround(65535.0 * m.far));
        }
    }
}

TEST_CASE("the masks of the blank: regions add up, areas are those of the closed forms") {
    constexpr double pi = 3.14159265358979323846;
    const Place place;
    write_ply(place / "model.ply", plate(3, 3));
    struct Area {
        std::size_t blank;
        double outer, inner, hole;
    };
    const auto rounded = [](double w, double h, double r) { return w * h - (4.0 - pi) * r * r; };
    // An oval's field is a parallel curve, no ellipse: by Steiner's formula its area is that of the
    // ellipse less the perimeter times the rim plus pi rim^2 (Santalo, "Integral Geometry and
    // Geometric Probability"); the perimeter by Ramanujan's second formula, within 1e-9 here.
    const double a = 12.0, b = 8.85, h = std::pow((a - b) / (a + b), 2);
    const double perimeter = pi * (a + b) * (1.0 + 3.0 * h / (10.0 + std::sqrt(4.0 - 3.0 * h)));
    const std::vector<Area> areas{
        {0, pi * 10.125 * 10.125, pi * 9.025 * 9.025, 0.0},
        {1, pi * a * b, pi * a * b - 0.9 * perimeter + pi * 0.9 * 0.9, 0.0},
        {2, rounded(18.4, 25.0, 3.0), rounded(14.4, 21.0, 1.0), 0.0},
        {3, rounded(15.0, 25.0, 7.5), rounded(12.6, 22.6, 6.3), pi * 1.5 * 1.5}};
    for (const auto& area : areas) {
        CAPTURE(area.blank);
        // So that all sides are whole pixels and nothing is cut.
        constexpr double px_per_mm = 20.0;
        SceneText scene;
        scene.blank = blanks[area.blank].blank;
        scene.image = "px_per_mm = 20.0\n";
        scene.passes = "[pass.blank]\n";
        const Rendered rendered = render(place, scene);
        const Picture all = read_picture(rendered.folder / "blank.png");
        const Picture field = read_picture(rendered.folder / "blank-field.png");
        const Picture rim = read_picture(rendered.folder / "blank-rim.png");
        double all_mm2 = 0.0, field_mm2 = 0.0;
        int worst = 0;
        for (std::size_t i = 0; i < all.codes.size(); ++i) {
            worst = std::max(worst, std::abs(all.codes[i] - field.codes[i] - rim.codes[i]));
            all_mm2 += all.codes[i] / 65535.0 / (px_per_mm * px_per_mm);
            field_mm2 += field.codes[i] / 65535.0 / (px_per_mm * px_per_mm);
        }
        CHECK(worst <= 1);  // three roundings of half a code: 1.5, and codes are whole
        // Exact along x, sixteen lines a pixel along y. The lines' sum of a chord that rises once
        // and falls once is off by at most a line's height times the longest chord; the hole's too.
        const double bound = (25.0 + 3.0) / (16.0 * px_per_mm);
        CHECK(std::abs(all_mm2 - (area.outer - area.hole)) < bound);
        CHECK(std::abs(field_mm2 - (area.inner - area.hole)) < bound);
        CHECK(bound < 0.01 * area.inner);
    }
}

TEST_SUITE_END();
