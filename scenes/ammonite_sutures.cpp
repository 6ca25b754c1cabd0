#include "ammonite_sutures.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <glm/common.hpp>
#include <glm/geometric.hpp>

#include "value_noise.hpp"

namespace {

// Lengths are in whorl heights. Where the sutures are, this makes grooves 0.2 mm wide at half
// their depth and 0.3 mm at the brim, on a shell 30 mm across.
constexpr double kGrooveHalfWidth = 0.0165;
constexpr double kReachForward = 0.40;
constexpr double kLineStep = 0.004;

// Where the last whorl's septa stood; the last two stand closer, as in a full-grown shell.
constexpr double kLastSeptumRad = -3.55;
constexpr double kSeptumSpacingRad = 0.36;
constexpr int kSeptumCount = 8;

// Tips of the lobes (pointing back) and saddles (pointing forward), from the venter inwards.
constexpr std::array<glm::dvec2, 8> kLobesAndSaddles = {{
    {0.000, -0.08},  // median saddle, in the ventral lobe
    {0.060, -0.20},  // ventral lobe
    {0.240, 0.20},   // first lateral saddle
    {0.450, -0.23},  // lateral lobe
    {0.650, 0.15},   // second lateral saddle
    {0.820, -0.10},  // umbilical lobe
    {0.980, 0.07},   // auxiliary saddle
    {1.150, -0.02},  // into the seam
}};

// The plain line before it is frilled: broad, round saddles between narrower lobes.
double plain_line(double arc) {
    std::size_t i = 1;
    while (i + 1 < kLobesAndSaddles.size() && kLobesAndSaddles[i].x < arc) ++i;
    const glm::dvec2 from = kLobesAndSaddles[i - 1];
    const glm::dvec2 to = kLobesAndSaddles[i];
    const double across = glm::clamp((arc - from.x) / (to.x - from.x), 0.0, 1.0);
    const bool climbing = to.y > from.y;
    const double from_lobe =
        std::pow(std::sin((climbing ? across : 1.0 - across) * kTurn / 4.0), 1.2);
    return climbing ? glm::mix(from.y, to.y, from_lobe) : glm::mix(to.y, from.y, from_lobe);
}

std::vector<glm::dvec2> evenly_stepped(const std::vector<glm::dvec2>& line) {
    std::vector<glm::dvec2> stepped(1, line.front());
    for (const glm::dvec2& target : line) {
        while (glm::distance(stepped.back(), target) >= kLineStep) {
            const glm::dvec2 here = stepped.back();
            stepped.push_back(here + kLineStep * glm::normalize(target - here));
        }
    }
    return stepped;
}

// Pushes a line out along its forward side into rounded folioles with sharp notches between:
// |sin| is round above and pointed below, as the saddles and lobes of ammonites are.
std::vector<glm::dvec2> frilled(const std::vector<glm::dvec2>& line, double wavelength,
                                double amplitude, std::uint32_t seed) {
    std::vector<glm::dvec2> out;
    double phase = jitter(0, seed);
    for (std::size_t i = 0; i < line.size(); ++i) {
        const glm::dvec2 ahead = line[std::min(i + 3, line.size() - 1)];
        const glm::dvec2 along = glm::normalize(ahead - line[i >= 3 ? i - 3 : 0]);
        const glm::dvec2 forward(-along.y, along.x);
        const double swing = 1.0 + 0.25 * value_noise(phase * 0.7, seed + 1);
        const double foliole = std::abs(std::sin(phase * kTurn / 2.0)) - 0.6;
        const double finer = 1.08 - 0.36 * line[i].x;  // towards the umbilicus
        out.push_back(line[i] + amplitude * finer * swing * foliole * forward);
        const double drift = 1.0 + 0.25 * value_noise(phase * 0.5, seed + 2);
        phase += kLineStep / (wavelength * finer * drift);
    }
    return evenly_stepped(out);
}

std::vector<glm::dvec2> suture_line(std::uint32_t seed) {
    std::vector<glm::dvec2> plain;
    constexpr int steps = 600;
    for (int i = 0; i <= steps; ++i) {
        const double arc = kLobesAndSaddles.back().x * i / steps;
        plain.emplace_back(arc, plain_line(arc) * (1.0 + 0.12 * value_noise(arc * 4.0, seed)));
    }
    const auto once = frilled(evenly_stepped(plain), 0.098, 0.046, seed + 1);
    return frilled(once, 0.036, 0.005, seed + 5);
}

}  // namespace

SutureLines::SutureLines(const RaupCoil& coil) : coil_(coil) {
    double angle_rad = kLastSeptumRad;
    for (int i = 0; i < kSeptumCount; ++i) {
        sutures_.push_back({angle_rad, suture_line(100U + 20U * static_cast<std::uint32_t>(i))});
        const double crowding = i < 2 ? 0.72 : 1.0;
        angle_rad -= kSeptumSpacingRad * crowding * (1.0 + 0.06 * jitter(i, 17));
    }
}

double SutureLines::groove(double angle_rad, const SectionPoint& section) const {
    const double height_mm = coil_.whorl_height_mm(angle_rad);
    const double inner_mm = coil_.outer_radius_mm(angle_rad) - height_mm;
    const double heights_per_rad = inner_mm / height_mm + section.place.x;
    double nearest = kReachForward;
    for (const Suture& suture : sutures_) {
        const double forward = (angle_rad - suture.angle_rad) * heights_per_rad;
        if (std::abs(forward) > kReachForward) continue;
        const glm::dvec2 place(std::abs(section.arc_from_venter), forward);
        nearest = std::min(nearest, distance_to(suture, place));
    }
    const double x = nearest / kGrooveHalfWidth;
    return std::exp(-x * x);
}

double SutureLines::distance_to(const Suture& suture, const glm::dvec2& place) const {
    double nearest_squared = kReachForward * kReachForward;
    for (const glm::dvec2& point : suture.line) {
        const glm::dvec2 apart = point - place;
        nearest_squared = std::min(nearest_squared, glm::dot(apart, apart));
    }
    return std::sqrt(nearest_squared);
}
