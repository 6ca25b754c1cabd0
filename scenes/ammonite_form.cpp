#include "ammonite_form.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <glm/common.hpp>
#include <glm/geometric.hpp>

namespace {

constexpr int kSectionSamples = 4096;

// Control points of half the section, from the venter to the dorsum, for a uniform cubic
// B-spline: (radial, axial), the axial values as for a section of half width 0.5.
constexpr std::array<glm::dvec2, 12> kHalfSection = {{
    {1.015, 0.000},   // venter
    {0.995, 0.130},   //
    {0.910, 0.255},   // ventral shoulder
    {0.780, 0.360},   //
    {0.620, 0.440},   // flank, flattened
    {0.450, 0.490},   //
    {0.290, 0.518},   //
    {0.165, 0.515},   // umbilical shoulder
    {0.070, 0.455},   //
    {0.015, 0.335},   // umbilical wall
    {-0.005, 0.170},  //
    {0.010, 0.000},   // dorsum
}};
constexpr double kShoulderRadial = 0.17;

// Steps of u are this much longer where the previous whorl hides the wall.
constexpr double kHiddenStep = 3.5;

glm::dvec2 control_point(int index) {
    constexpr int half = static_cast<int>(kHalfSection.size()) - 1;
    // Counted from the dorsum over the +z flank (first half) and back (second half).
    const int wrapped = ((index % (2 * half)) + 2 * half) % (2 * half);
    if (wrapped <= half) return kHalfSection[static_cast<std::size_t>(half - wrapped)];
    const glm::dvec2 mirrored = kHalfSection[static_cast<std::size_t>(wrapped - half)];
    return {mirrored.x, -mirrored.y};
}

glm::dvec2 spline_point(double round, double section_shape_s) {
    const double knot = round * 2.0 * static_cast<double>(kHalfSection.size() - 1);
    const int k = static_cast<int>(std::floor(knot));
    const double f = knot - k;
    const double g = 1.0 - f;
    const glm::dvec2 p = (g * g * g * control_point(k - 1) +
                          (3.0 * f * f * f - 6.0 * f * f + 4.0) * control_point(k) +
                          (3.0 * g * g * g - 6.0 * g * g + 4.0) * control_point(k + 1) +
                          f * f * f * control_point(k + 2)) /
                         6.0;
    return {p.x, p.y * section_shape_s};
}

double smooth_step(double from, double to, double x) {
    const double f = glm::clamp((x - from) / (to - from), 0.0, 1.0);
    return f * f * (3.0 - 2.0 * f);
}

// Fills in the arc lengths, told from the venter, and the flank coordinate that goes with them.
void measure(std::vector<SectionPoint>& samples) {
    double walked = 0.0;
    for (std::size_t i = 1; i < samples.size(); ++i) {
        samples[i - 1].arc_from_venter = walked;
        walked += glm::distance(samples[i].place, samples[i - 1].place);
    }
    samples.back().arc_from_venter = walked;
    for (SectionPoint& sample : samples) {
        sample.arc_from_venter = walked / 2.0 - sample.arc_from_venter;
    }
    const auto shoulder = std::find_if(samples.begin(), samples.end(), [](const auto& sample) {
        return sample.place.x > kShoulderRadial;
    });
    const double shoulder_arc = shoulder->arc_from_venter;
    for (SectionPoint& sample : samples) {
        sample.flank = 1.0 - std::abs(sample.arc_from_venter) / shoulder_arc;
    }
}

}  // namespace

double RaupCoil::outer_radius_mm(double angle_rad) const {
    return final_radius_mm * std::pow(whorl_expansion_w, angle_rad / kTurn);
}

double RaupCoil::axis_distance(double angle_rad) const {
    // The first chamber lies across the axis: no hole stays open through the middle.
    const double grown_whorls = std::max(0.0, (angle_rad - first_angle_rad()) / kTurn);
    return glm::mix(-0.30, axis_distance_d, smooth_step(0.0, 1.1, grown_whorls));
}

double RaupCoil::whorl_height_mm(double angle_rad) const {
    return outer_radius_mm(angle_rad) * (1.0 - axis_distance(angle_rad));
}

glm::dvec3 RaupCoil::place(double angle_rad, double radial, double axial) const {
    const double height_mm = whorl_height_mm(angle_rad);
    const double radius_mm =
        outer_radius_mm(angle_rad) * axis_distance(angle_rad) + radial * height_mm;
    const double bearing_rad = aperture_bearing_rad + angle_rad;
    // Raup's T moves the section along the axis by T for every unit that it moves outwards.
    const double shift_mm = translation_t * (outer_radius_mm(angle_rad) - final_radius_mm);
    return {radius_mm * std::cos(bearing_rad), radius_mm * std::sin(bearing_rad),
            axial * height_mm + shift_mm};
}

WhorlSection::WhorlSection(double section_shape_s) {
    samples_.resize(kSectionSamples + 1);
    for (int i = 0; i <= kSectionSamples; ++i) {
        const double round = static_cast<double>(i) / kSectionSamples;
        constexpr double half_step = 0.5 / kSectionSamples;
        const glm::dvec2 ahead = spline_point(round + half_step, section_shape_s);
        const glm::dvec2 along = ahead - spline_point(round - half_step, section_shape_s);
        SectionPoint& sample = samples_[static_cast<std::size_t>(i)];
        sample.place = spline_point(round, section_shape_s);
        sample.outward = glm::normalize(glm::dvec2(-along.y, along.x));
    }
    measure(samples_);
    weighted_length_.assign(1, 0.0);
    for (std::size_t i = 1; i < samples_.size(); ++i) {
        const double step = glm::distance(samples_[i].place, samples_[i - 1].place);
        const double seen = smooth_step(-0.75, -0.35, samples_[i].flank);
        weighted_perimeter_ += step / glm::mix(kHiddenStep, 1.0, seen);
        weighted_length_.push_back(weighted_perimeter_);
    }
}

SectionPoint WhorlSection::at(double u) const {
    const double wanted = (u - std::floor(u)) * weighted_perimeter_;
    const auto after =
        std::upper_bound(weighted_length_.begin() + 1, weighted_length_.end() - 1, wanted);
    const auto i = static_cast<std::size_t>(after - weighted_length_.begin());
    const double f =
        (wanted - weighted_length_[i - 1]) / (weighted_length_[i] - weighted_length_[i - 1]);
    const SectionPoint& a = samples_[i - 1];
    const SectionPoint& b = samples_[i];
    return {glm::mix(a.place, b.place, f), glm::normalize(glm::mix(a.outward, b.outward, f)),
            glm::mix(a.arc_from_venter, b.arc_from_venter, f), glm::mix(a.flank, b.flank, f)};
}
