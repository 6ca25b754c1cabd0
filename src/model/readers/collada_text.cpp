#include "model/readers/collada_text.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <numbers>
#include <string_view>

#include <glm/glm.hpp>

#include "error.hpp"
#include "model/readers/xml.hpp"

namespace rakelight {
namespace {

Error no_skew(const std::string& found) {
    return Error(ExitCode::bad_model,
                 "a <skew> " + found +
                     "; expected an angle in degrees, an axis, and another one that lies farther "
                     "from it than the angle; export the model again");
}

std::array<double, 7> skew_numbers(std::string_view text) {
    std::array<double, 7> numbers{};
    for (double& number : numbers) {
        if (text.find_first_not_of(" \t\r\n") == text.npos)
            throw no_skew("has less than 7 numbers");
        number = take_number(text, "a number of a <skew>");
    }
    return numbers;
}

/// How far points are shifted along a unit vector, times another one at right angles to it.
struct Shift {
    glm::dvec3 along, across;
    double factor;
};

// COLLADA 1.4.1 specification, <skew>, from memory:
// points are shifted along the second axis, so that the first one turns towards it by the angle.
Shift shift_of(const std::array<double, 7>& skew) {
    const double angle = skew[0] * std::numbers::pi / 180.0;
    const glm::dvec3 turned(skew[1], skew[2], skew[3]), axis(skew[4], skew[5], skew[6]);
    const glm::dvec3 along = glm::normalize(axis);
    const double there = glm::dot(turned, along);
    const glm::dvec3 rest = turned - there * along;
    const double off = glm::length(rest);
    // The first axis in the plane of both, turned by the angle.
    const double new_there = off * std::sin(angle) + there * std::cos(angle);
    const double new_off = off * std::cos(angle) - there * std::sin(angle);
    const Shift shift{along, rest / off, new_there / new_off - there / off};
    // Not for NaN either, which comes of an axis without length and of two that are parallel.
    if (!(off > 1e-9 * glm::length(turned)) || !(new_off > 1e-9 * off) ||
        !std::isfinite(shift.factor))
        throw no_skew("turns its first axis as far as its second one or farther");
    return shift;
}

std::string matrix_of(std::string_view skew) {
    const Shift shift = shift_of(skew_numbers(skew));
    std::string text = "<matrix>";
    for (int row = 0; row < 4; ++row)
        for (int column = 0; column < 4; ++column) {
            double value = row == column ? 1.0 : 0.0;
            if (row < 3 && column < 3)
                value += shift.factor * shift.along[row] * shift.across[column];
            std::array<char, 32> digits{};
            text.append(digits.data(), std::to_chars(digits.data(), digits.data() + digits.size(),
                                                     value, std::chars_format::general, 9)
                                           .ptr);
            text += ' ';
        }
    return text + "</matrix>";
}

/// The text with each element of this name replaced by what is made of its content. An attribute
/// goes with it: what a clip does to it would be done to another kind of element.
template <class Replacement>
std::string replaced(const std::string& text, const std::string& name,
                     const Replacement& replacement) {
    const std::string begin = "<" + name, end = "</" + name + ">";
    std::string out;
    std::size_t done = 0;
    for (std::size_t at = 0; (at = text.find(begin, at)) != text.npos;) {
        const std::size_t from = at;
        at += begin.size();
        if (at >= text.size() || std::string_view("> \t\r\n").find(text[at]) == text.npos) continue;
        const std::size_t inside = text.find('>', at), close = text.find(end, at);
        if (inside == text.npos || close == text.npos || close < inside) break;
        out.append(text, done, from - done);
        out += replacement(std::string_view(text).substr(inside + 1, close - inside - 1));
        at = done = close + end.size();
    }
    return out.append(text, done);
}

}  // namespace

std::optional<std::string> prepared_collada(const std::string& text) {
    const bool skews = text.find("<skew") != text.npos;
    const bool thins =
        text.find("<transparency") != text.npos && text.find("<texture") != text.npos;
    if (!skews && !thins) return std::nullopt;
    std::string made = skews ? replaced(text, "skew", matrix_of) : text;
    if (thins) made = replaced(made, "transparency", [](std::string_view) { return ""; });
    return made;
}

}  // namespace rakelight
