#include "model/readers/collada_text.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <numbers>
#include <string_view>
#include <vector>

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

std::string matrix_of(const Shift& shift) {
    std::string text;
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
    return text;
}

using Elements = std::vector<pugi::xml_node>;

/// All elements of this name but for those inside of others.
Elements elements(const pugi::xml_document& document, std::string_view name) {
    Elements found;
    for (pugi::xml_node node = document.first_child(); node;) {
        const bool is_one = name == node.name();
        if (is_one) found.push_back(node);
        if (!is_one && node.first_child()) {
            node = node.first_child();
            continue;
        }
        while (node && !node.next_sibling()) node = node.parent();
        node = node.next_sibling();
    }
    return found;
}

std::string content_of(const pugi::xml_node& element) {
    std::string text;
    for (const pugi::xml_node& child : element.children()) text += child.value();
    return text;
}

// What a clip would do to a <skew> it would do to another kind of element: attributes go.
void make_matrix(pugi::xml_node skew) {
    const std::string matrix = matrix_of(shift_of(skew_numbers(content_of(skew))));
    skew.parent().insert_child_before("matrix", skew).text().set(matrix.c_str());
    skew.parent().remove_child(skew);
}

}  // namespace

std::optional<std::string> prepared_collada(std::string_view text) {
    const bool skews = text.find("skew") != text.npos;
    const bool thins = text.find("transparency") != text.npos && text.find("texture") != text.npos;
    pugi::xml_document document;
    if ((!skews && !thins) || !document.load_buffer(text.data(), text.size()) ||
        !document.child("COLLADA"))
        return std::nullopt;
    const auto thinned = thins ? elements(document, "transparency") : Elements();
    for (const pugi::xml_node& element : thinned) element.parent().remove_child(element);
    const auto skewed = elements(document, "skew");
    for (const pugi::xml_node& element : skewed) make_matrix(element);
    if (skewed.empty() && thinned.empty()) return std::nullopt;
    return text_of(document);
}

}  // namespace rakelight
