// The cut: its heights against closed forms, its drawing read back by an XML parser.

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <map>
#include <pugixml.hpp>
#include <string>

#include "struck/cut_drawing.hpp"

using namespace rakelight;

namespace {

ImageGrid grid() {
    return {400, 400, 10.0, -20.0, 20.0};
}

BlankSettings disc() {
    BlankSettings blank;
    blank.width_mm = blank.height_mm = 40.0;
    return blank;
}

/// A cap of a ball of 50 mm, 2 mm high, up and to the right of the middle.
double cap_mm(double x, double y) {
    const double radius = 50.0;
    x -= 1.0;
    y -= 2.0;
    return std::max(0.0, std::sqrt(radius * radius - x * x - y * y) - (radius - 2.0));
}

Plane cap() {
    Plane heights(400, 400);
    for (int y = 0; y < 400; ++y) {
        for (int x = 0; x < 400; ++x) {
            const glm::dvec2 p = grid().centre_of(x, y);
            heights.at(x, y) = static_cast<float>(cap_mm(p.x, p.y));
        }
    }
    return heights;
}

/// Where the labels of an axis stand: from their numbers to their places, as one reads them.
struct Scale {
    double zero, to_the_mm;
    double mm(double place) const { return (place - zero) / to_the_mm; }
};

double said(const pugi::xml_node& text) {
    std::string digits = text.child_value();
    if (digits.starts_with("\xE2\x88\x92")) digits = "-" + digits.substr(3);
    return std::strtod(digits.c_str(), nullptr);
}

struct Drawing {
    pugi::xml_document document;
    std::vector<pugi::xml_node> lengths, heights, surfaces;

    explicit Drawing(const std::string& svg) {
        const auto read = document.load_string(svg.c_str(), pugi::parse_full);
        REQUIRE_MESSAGE(read, read.description());
        for (const pugi::xml_node node : document.child("svg").children()) {
            const std::string kind = node.attribute("class").value();
            if (kind == "length") lengths.push_back(node);
            if (kind == "height") heights.push_back(node);
            if (kind == "surface") surfaces.push_back(node);
        }
    }
    Scale along() const {
        const auto &a = lengths.front(), &b = lengths.back();
        const double to =
            (b.attribute("x").as_double() - a.attribute("x").as_double()) / (said(b) - said(a));
        return {a.attribute("x").as_double() - to * said(a), to};
    }
    /// @param first, end  its labels among all; the baseline of digits lies 4.5 below their line
    Scale up(std::size_t first, std::size_t end) const {
        const auto &a = heights[first], &b = heights[end - 1];
        const double to =
            (b.attribute("y").as_double() - a.attribute("y").as_double()) / (said(b) - said(a));
        return {a.attribute("y").as_double() - 4.5 - to * said(a), to};
    }
    /// The labels up to where the numbers fall again are those of the upper profile.
    std::size_t upper_labels() const {
        std::size_t count = 1;
        while (count < heights.size() && said(heights[count]) > said(heights[count - 1])) ++count;
        return count;
    }
};

/// The points of a path of straight lines, without its first and last one, which go down.
std::vector<std::array<double, 2>> points_of(const pugi::xml_node& path) {
    std::vector<std::array<double, 2>> points;
    const std::string d = path.attribute("d").value();
    const char* at = d.c_str();
    while (*at == 'M' || *at == 'L') {
        char* end = nullptr;
        const double x = std::strtod(at + 1, &end);
        const double y = std::strtod(end, &end);
        points.push_back({x, y});
        at = end;
    }
    REQUIRE(*at == 'V');
    points.erase(points.begin());
    return points;
}

}  // namespace

TEST_CASE("cut: its heights are the relief's, at equal steps from end to end") {
    const CutLine line{{-15.0, 3.0}, {14.0, -6.0}};
    const auto pieces = cut_profile(cap(), BlankGeometry(disc()), grid(), line);
    REQUIRE(pieces.size() == 1);
    const double length = std::hypot(29.0, 9.0);
    CHECK(pieces[0].front().along_mm == 0.0);
    CHECK(pieces[0].back().along_mm == doctest::Approx(length));
    CHECK(pieces[0].size() == 305);  // 30.36 mm at 10 px/mm, both ends
    for (const CutPoint& point : pieces[0]) {
        const double t = point.along_mm / length;
        const double expected = cap_mm(-15.0 + 29.0 * t, 3.0 - 9.0 * t);
        // Between pixels a chord of the ball: 0.1^2 / 8 / 50 each way; at its foot the kink, a
        // pixel of the slope there, 0.29.
        CHECK(std::abs(point.height_mm - expected) < (expected > 0.05 ? 1e-4 : 0.015));
    }
}

TEST_CASE("cut: it ends at the outline, leaves the hole out, and climbs the rim") {
    BlankSettings blank = disc();
    blank.rim_mm = 2.0;
    blank.rim_height_mm = 0.8;
    blank.hole = HoleSettings{4.0, 8.0};  // its middle at y = 12
    const CutLine upright{{0.0, -20.0}, {0.0, 20.0}};
    const auto pieces = cut_profile(Plane(400, 400), BlankGeometry(blank), grid(), upright);
    REQUIRE(pieces.size() == 2);
    CHECK(pieces[0].front().along_mm == 0.0);
    CHECK(std::abs(pieces[0].back().along_mm - 30.0) <= 0.1);
    CHECK(std::abs(pieces[1].front().along_mm - 34.0) <= 0.1);
    CHECK(pieces[0].front().height_mm == doctest::Approx(0.8));
    CHECK(pieces[0][30].height_mm == 0.0);
    // Across a corner of its bounding box there is nothing of a disc.
    const CutLine corner{{-20.0, 17.0}, {-17.0, 20.0}};
    CHECK(cut_profile(Plane(400, 400), BlankGeometry(blank), grid(), corner).empty());
}

TEST_CASE("cut: how much it is raised") {
    CHECK(raised_by(30.0, 2.0) == 5.0);  // 10 mm of 30: a third
    CHECK(raised_by(30.0, 2.01) == 2.0);
    CHECK(raised_by(30.0, 11.0) == 1.0);
    CHECK(raised_by(30.0, 20.0) == 1.0);
    CHECK(raised_by(40.0, 0.2) == 50.0);
}

TEST_CASE("cut: the drawing read back by its own labels is the profile, raised and true") {
    const CutLine line{{-18.0, 0.0}, {18.0, 0.0}};
    const auto pieces = cut_profile(cap(), BlankGeometry(disc()), grid(), line);
    const Drawing drawing(cut_drawing(pieces, line));
    REQUIRE(drawing.surfaces.size() == 2);
    const std::size_t upper = drawing.upper_labels();
    REQUIRE(upper >= 3);
    REQUIRE(drawing.heights.size() >= upper + 2);
    const Scale along = drawing.along();
    const Scale raised = drawing.up(0, upper), plain = drawing.up(upper, drawing.heights.size());
    CHECK(-plain.to_the_mm == doctest::Approx(along.to_the_mm).epsilon(1e-3));
    CHECK(raised.to_the_mm == doctest::Approx(5.0 * plain.to_the_mm).epsilon(1e-3));
    CHECK(std::string(drawing.document.child("svg").attribute("version").value()) == "1.1");
    for (std::size_t i = 0; i < 2; ++i) {
        const Scale& up = i == 0 ? raised : plain;
        const auto points = points_of(drawing.surfaces[i]);
        REQUIRE(points.size() == pieces[0].size());
        for (std::size_t k = 0; k < points.size(); ++k) {
            // A hundredth of a unit in the path and in the labels.
            CHECK(std::abs(along.mm(points[k][0]) - pieces[0][k].along_mm) < 1e-3);
            CHECK(std::abs(up.mm(points[k][1]) - pieces[0][k].height_mm) <
                  0.03 / std::abs(up.to_the_mm));
        }
    }
}

TEST_CASE("cut: a level piece, a dish and no piece at all are drawn too") {
    const CutLine line{{-18.0, 0.0}, {18.0, 0.0}};
    const BlankGeometry blank(disc());
    CHECK(Drawing(cut_drawing({}, line)).surfaces.empty());
    const Drawing level(cut_drawing(cut_profile(Plane(400, 400), blank, grid(), line), line));
    CHECK(level.surfaces.size() == 1);
    const Drawing dish(cut_drawing(cut_profile(Plane(400, 400, -1.0F), blank, grid(), line), line));
    CHECK(dish.surfaces.size() == 2);
    CHECK(said(dish.heights.front()) == -1.0);
    // A tower is drawn narrower, on a page that can be looked at.
    const Drawing tower(
        cut_drawing(cut_profile(Plane(400, 400, 900.0F), blank, grid(), line), line));
    CHECK(tower.document.child("svg").attribute("height").as_double() < 1500.0);
    CHECK(tower.surfaces.size() == 1);
}
