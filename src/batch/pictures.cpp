#include "batch/pictures.hpp"

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <functional>
#include <limits>

#include "batch/tasks.hpp"
#include "error.hpp"
#include "image/codes.hpp"

namespace rakelight {
namespace {

constexpr double share_error = 1.0 / 131070.0;

constexpr double least_h_max_per_mm = 1e-4;  // a radius of 10 m

// Smallest, largest and mean value over the pixels that the subject covers.
class Spread {
public:
    void add(double value) {
        low_ = std::min(low_, value);
        high_ = std::max(high_, value);
        sum_ += value;
        ++count_;
    }
    std::vector<NamedNumber> numbers(const std::string& unit) const {
        const double n = static_cast<double>(std::max<std::uint64_t>(count_, 1));
        return {{"min" + unit, count_ > 0 ? low_ : 0.0},
                {"max" + unit, count_ > 0 ? high_ : 0.0},
                {"mean" + unit, sum_ / n}};
    }
    double low() const { return count_ > 0 ? low_ : 0.0; }
    double high() const { return count_ > 0 ? high_ : 0.0; }
    double magnitude() const {
        return count_ > 0 ? std::max(std::abs(low_), std::abs(high_)) : 0.0;
    }

private:
    double low_ = std::numeric_limits<double>::max();
    double high_ = std::numeric_limits<double>::lowest();
    double sum_ = 0.0;
    std::uint64_t count_ = 0;
};

// Four digits, rounded away from the middle of a range, so that the range still holds the value.
std::string outward(double value, double (*round)(double)) {
    const double step = std::pow(10.0, std::floor(std::log10(std::max(std::abs(value), 1e-9))) - 3);
    char text[32];
    std::snprintf(text, sizeof text, "%.6g", round(value / step) * step);
    return text;
}

Picture named(const std::string& name) {
    Picture picture;
    picture.name = name;
    picture.file = name + ".png";
    return picture;
}

Picture share_picture(const std::string& name, const std::string& meaning, const Plane& plane,
                      const Plane& coverage) {
    Picture picture = named(name);
    picture.meaning = meaning;
    picture.encoding = "code = round(65535 v); v = code / 65535";
    picture.numbers = {{"worst_error", share_error}};
    picture.image = Image16(plane.width, plane.height, 1);
    Spread spread;
    for (std::size_t i = 0; i < plane.values.size(); ++i) {
        picture.image.codes[i] = encode_share(plane.values[i], picture.clipped);
        if (coverage.values[i] > 0.0F) spread.add(plane.values[i]);
    }
    picture.statistics = spread.numbers("");
    return picture;
}

Picture depth_picture(const DepthPass& pass, const RenderedPlanes& planes,
                      const VisibleSubject& visible) {
    DepthEncoding encoding{visible.near_mm, visible.far_mm, pass.near_margin, pass.far_margin};
    if (pass.range_mm) {
        encoding.near_mm = (*pass.range_mm)[0];
        encoding.far_mm = (*pass.range_mm)[1];
    }
    Picture picture = named("depth");
    picture.meaning =
        "z in mm along the view axis from the plane through the subject's centre, away from the "
        "viewer positive; near is bright; outside the subject 0";
    picture.encoding =
        "code = round(65535 (far_margin + (1 - near_margin - far_margin) (far_mm - z) / (far_mm - "
        "near_mm))); z = far_mm - (code / 65535 - far_margin) (far_mm - near_mm) / (1 - "
        "near_margin - far_margin)";
    picture.numbers = {
        {"near_mm", encoding.near_mm},           {"far_mm", encoding.far_mm},
        {"near_margin", encoding.near_margin},   {"far_margin", encoding.far_margin},
        {"mm_per_code", encoding.mm_per_code()}, {"worst_error_mm", encoding.worst_error_mm()}};
    picture.clipping_allowed = pass.allow_clipping;
    picture.image = Image16(planes.coverage.width, planes.coverage.height, 1);
    Spread spread;
    for (std::size_t i = 0; i < planes.coverage.values.size(); ++i) {
        if (planes.coverage.values[i] <= 0.0F) continue;
        const double z_mm = -static_cast<double>(planes.height_mm.values[i]);
        picture.image.codes[i] = encoding.encode(z_mm, picture.clipped);
        spread.add(z_mm);
    }
    picture.statistics = spread.numbers("_mm");
    picture.enough = "range_mm = [" + outward(spread.low(), std::floor) + ", " +
                     outward(spread.high(), std::ceil) + "]";
    return picture;
}

Picture curvature_picture(const CurvaturePass& pass, const RenderedPlanes& planes) {
    Spread spread;
    for (std::size_t i = 0; i < planes.curvature.values.size(); ++i) {
        if (planes.coverage.values[i] > 0.0F) spread.add(planes.curvature.values[i]);
    }
    // A flat plate has none but the noise of its arithmetic, which must not fill the codes.
    const double largest = std::max(spread.magnitude(), least_h_max_per_mm);
    const SignedEncoding encoding{pass.h_max_per_mm.value_or(largest)};
    Picture picture = named("curvature");
    picture.meaning = "mean curvature in 1/mm at scale_mm, convex positive; outside the subject 0";
    picture.encoding =
        "code = 32768 + round(32767 h / h_max_per_mm); h = (code - 32768) "
        "h_max_per_mm / 32767";
    picture.numbers = {{"scale_mm", pass.scale_mm},
                       {"h_max_per_mm", encoding.h_max},
                       {"worst_error_per_mm", encoding.worst_error()}};
    picture.clipping_allowed = pass.allow_clipping;
    picture.image = Image16(planes.coverage.width, planes.coverage.height, 1);
    for (std::size_t i = 0; i < planes.curvature.values.size(); ++i) {
        picture.image.codes[i] = encoding.encode(planes.curvature.values[i], picture.clipped);
    }
    picture.statistics = spread.numbers("_per_mm");
    picture.enough = "h_max_per_mm = " + outward(spread.magnitude(), std::ceil);
    return picture;
}

Picture normal_picture(const RenderedPlanes& planes) {
    Picture picture = named("normal");
    picture.meaning =
        "unit normal in view space: red +x right, green +y up, blue +z to the viewer; "
        "outside the subject (0, 0, 1)";
    picture.encoding = "code = round(65535 (v + 1) / 2); v = 2 code / 65535 - 1, each channel";
    picture.numbers = {{"worst_error", 1.0 / 65535.0}};
    picture.image = Image16(planes.coverage.width, planes.coverage.height, 3);
    for (std::size_t i = 0; i < planes.coverage.values.size(); ++i) {
        picture.image.codes[3 * i] = encode_normal_component(planes.normal_x.values[i]);
        picture.image.codes[3 * i + 1] = encode_normal_component(planes.normal_y.values[i]);
        picture.image.codes[3 * i + 2] = encode_normal_component(planes.normal_z.values[i]);
    }
    return picture;
}

Picture occlusion_picture(const OcclusionPass& pass, const BlankGeometry& blank,
                          const RenderedPlanes& planes) {
    Picture picture = share_picture(
        "occlusion",
        "cosine-weighted share of the hemisphere that is open within reach_mm; 1 is fully open, "
        "and so is all outside the subject",
        planes.occlusion, planes.coverage);
    picture.numbers.insert(picture.numbers.begin(), {"reach_mm", occlusion_reach_mm(pass, blank)});
    return picture;
}

Picture contour_picture(const ContourPass& pass, const BlankGeometry& blank,
                        const RenderedPlanes& planes) {
    Picture picture =
        share_picture("contour",
                      "share of the pixel that a line one pixel wide covers, along the outline and "
                      "along depth steps of more than step_mm",
                      planes.contour, planes.coverage);
    picture.numbers.insert(picture.numbers.begin(), {"step_mm", contour_step_mm(pass, blank)});
    return picture;
}

std::vector<Picture> blank_pictures(const std::vector<BlankMask>& masks, const Plane& coverage) {
    std::vector<Picture> pictures;
    for (const auto& mask : masks) {
        const std::string name = mask.region == "blank" ? "blank" : "blank-" + mask.region;
        pictures.push_back(
            share_picture(name, "share of the pixel's area that belongs to the blank's region",
                          mask.coverage, coverage));
    }
    return pictures;
}

const Plane* region(const std::vector<BlankMask>& masks, const std::string& name) {
    for (const auto& mask : masks) {
        if (mask.region == name) return &mask.coverage;
    }
    return nullptr;
}

void widen(PixelRect& box, int x, int y) {
    if (box.width == 0) {
        box = {x, y, 1, 1};
        return;
    }
    const int right = std::max(box.x + box.width, x + 1);
    const int bottom = std::max(box.y + box.height, y + 1);
    box.x = std::min(box.x, x);
    box.y = std::min(box.y, y);
    box.width = right - box.x;
    box.height = bottom - box.y;
}

void refuse_invisible(const VisibleSubject& visible) {
    if (visible.pixels == 0) {
        throw Error(ExitCode::unusable_picture,
                    "nothing is in the picture: no pixel shows the subject; expected at least one: "
                    "check [framing] shift_mm and zoom");
    }
    if (visible.field_share <= 0.0) {
        throw Error(ExitCode::unusable_picture,
                    "nothing is in the field: the subject lies wholly on the rim or beyond it; "
                    "expected some of it inside: check [framing] shift_mm and zoom");
    }
}

// A file name keeps letters, digits, '.', '-' and '_' of a part's name.
std::string file_safe(const std::string& name) {
    std::string safe;
    for (const char c : name) {
        const bool kept = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') ||
                          (c >= '0' && c <= '9') || c == '.' || c == '-' || c == '_';
        safe += kept ? c : '_';
    }
    return safe;
}

// Two parts whose names differ only in what a file name cannot keep still get two files.
void make_files_unique(std::vector<Picture>& pictures) {
    for (std::size_t i = 0; i < pictures.size(); ++i) {
        const std::string wanted = pictures[i].file;
        const auto taken = [&](const std::string& file) {
            return std::any_of(pictures.begin(), pictures.begin() + static_cast<std::ptrdiff_t>(i),
                               [&](const Picture& other) { return other.file == file; });
        };
        for (int n = 2; taken(pictures[i].file); ++n) {
            pictures[i].file =
                wanted.substr(0, wanted.size() - 4) + "-" + std::to_string(n) + ".png";
        }
    }
}

}  // namespace

VisibleSubject measure_visible(const RenderedPlanes& planes, const std::vector<BlankMask>& masks,
                               double px_per_mm) {
    const Plane& field = *region(masks, "field");
    const Plane* hole = region(masks, "hole");
    VisibleSubject visible;
    double low = std::numeric_limits<double>::max();
    double high = std::numeric_limits<double>::lowest();
    double covered = 0.0;
    double covered_field = 0.0;
    double covered_hole = 0.0;
    double field_pixels = 0.0;
    for (int y = 0; y < field.height; ++y) {
        for (int x = 0; x < field.width; ++x) {
            const double coverage = planes.coverage.at(x, y);
            field_pixels += field.at(x, y);
            if (coverage <= 0.0) continue;
            const double height = planes.height_mm.at(x, y);
            low = std::min(low, height);
            high = std::max(high, height);
            ++visible.pixels;
            covered += coverage;
            covered_field += coverage * field.at(x, y);
            if (hole != nullptr) covered_hole += coverage * hole->at(x, y);
            widen(visible.box, x, y);
        }
    }
    const double mm2 = 1.0 / (px_per_mm * px_per_mm);
    visible.area_mm2 = covered * mm2;
    visible.over_hole_mm2 = covered_hole * mm2;
    visible.field_share = field_pixels > 0.0 ? covered_field / field_pixels : 0.0;
    refuse_invisible(visible);
    visible.near_mm = -high;
    visible.far_mm = -low;
    return visible;
}

void flatten_rounding(RenderedPlanes& planes, VisibleSubject& visible, double whole_mm) {
    // Heights are interpolated and shifted in single precision: some 2^-24 of the largest each
    // time.
    constexpr double roundings = 32.0 / 16777216.0;
    const double largest_mm =
        std::max({whole_mm, std::abs(visible.near_mm), std::abs(visible.far_mm)});
    if (visible.far_mm - visible.near_mm > roundings * largest_mm) return;
    visible.far_mm = visible.near_mm;
    const auto height = static_cast<float>(-visible.near_mm);
    for (std::size_t i = 0; i < planes.height_mm.values.size(); ++i) {
        if (planes.coverage.values[i] > 0.0F) planes.height_mm.values[i] = height;
    }
}

double occlusion_reach_mm(const OcclusionPass& pass, const BlankGeometry& blank) {
    return pass.reach_mm.value_or(blank.field_shorter_side_mm() / 8.0);
}

double contour_step_mm(const ContourPass& pass, const BlankGeometry& blank) {
    return pass.step_mm.value_or(0.02 * blank.field_shorter_side_mm());
}

std::vector<Picture> make_pictures(const Scene& scene, const BlankGeometry& blank,
                                   const std::vector<BlankMask>& masks,
                                   const RenderedPlanes& planes, const VisibleSubject& visible,
                                   const std::vector<std::string>& part_names) {
    const PassSettings& passes = scene.passes;
    std::vector<std::function<std::vector<Picture>()>> makers;
    const auto one = [&](auto make) {
        makers.emplace_back([make] { return std::vector<Picture>{make()}; });
    };
    if (passes.depth) one([&] { return depth_picture(*passes.depth, planes, visible); });
    if (passes.occlusion) one([&] { return occlusion_picture(*passes.occlusion, blank, planes); });
    if (passes.curvature) one([&] { return curvature_picture(*passes.curvature, planes); });
    if (passes.silhouette) {
        one([&] {
            return share_picture("silhouette", "share of the pixel's area that the subject covers",
                                 planes.coverage, planes.coverage);
        });
    }
    if (passes.contour) one([&] { return contour_picture(*passes.contour, blank, planes); });
    if (passes.normal) one([&] { return normal_picture(planes); });
    for (std::size_t i = 0; i < part_names.size(); ++i) {
        one([&, i] {
            return share_picture("part-" + file_safe(part_names[i]),
                                 "share of the pixel's area in which the part \"" + part_names[i] +
                                     "\" is the visible one",
                                 planes.masks[i], planes.coverage);
        });
    }
    if (passes.blank) {
        makers.emplace_back([&] { return blank_pictures(masks, planes.coverage); });
    }
    std::vector<std::vector<Picture>> made(makers.size());
    std::vector<std::function<void()>> tasks;
    for (std::size_t i = 0; i < makers.size(); ++i)
        tasks.emplace_back([&, i] { made[i] = makers[i](); });
    run_tasks(tasks);
    std::vector<Picture> pictures;
    for (auto& group : made) {
        for (auto& picture : group) pictures.push_back(std::move(picture));
    }
    make_files_unique(pictures);
    return pictures;
}

void refuse_clipping(const std::vector<Picture>& pictures, std::vector<std::string>& warnings) {
    for (const auto& picture : pictures) {
        if (picture.clipped == 0) continue;
        std::string message = "the " + picture.name + " pass: " + std::to_string(picture.clipped) +
                              " pixels lie outside its fixed range; the subject's own values are";
        for (const auto& [name, value] : picture.statistics) {
            message += " " + name + " " + std::to_string(value);
        }
        if (!picture.clipping_allowed) {
            throw Error(ExitCode::unusable_picture,
                        message + "; expected none: widen it to " + picture.enough +
                            ", or set allow_clipping = true in [pass." + picture.name + "]");
        }
        warnings.push_back(message);
    }
}

}  // namespace rakelight
