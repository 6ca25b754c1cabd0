#include "batch/blank_json.hpp"

#include <array>
#include <utility>

namespace rakelight {
namespace {

constexpr std::array<std::pair<const char*, BlankShape>, 4> shapes{
    {{"round", BlankShape::round},
     {"oval", BlankShape::oval},
     {"rectangle", BlankShape::rectangle},
     {"tag", BlankShape::tag}}};

const char* shape_name(BlankShape shape) {
    for (const auto& [name, value] : shapes) {
        if (value == shape) return name;
    }
    return "";
}

BlankShape shape_from(const std::string& name) {
    for (const auto& [known, value] : shapes) {
        if (name == known) return value;
    }
    return BlankShape::round;
}

}  // namespace

nlohmann::ordered_json blank_json(const BlankSettings& blank) {
    nlohmann::ordered_json json = {{"shape", shape_name(blank.shape)},
                                   {"width_mm", blank.width_mm},
                                   {"height_mm", blank.height_mm},
                                   {"rim_mm", blank.rim_mm},
                                   {"exergue_mm", blank.exergue_mm}};
    if (blank.shape == BlankShape::rectangle) json["corner_radius_mm"] = blank.corner_radius_mm;
    if (blank.rim_height_mm) json["rim_height_mm"] = *blank.rim_height_mm;
    if (blank.hole) {
        json["hole"] = {{"diameter_mm", blank.hole->diameter_mm},
                        {"from_top_mm", blank.hole->from_top_mm}};
    }
    return json;
}

BlankSettings blank_from_json(const nlohmann::ordered_json& json) {
    BlankSettings blank;
    blank.shape = shape_from(json.at("shape").get<std::string>());
    blank.width_mm = json.at("width_mm");
    blank.height_mm = json.at("height_mm");
    blank.rim_mm = json.at("rim_mm");
    blank.exergue_mm = json.at("exergue_mm");
    blank.corner_radius_mm = json.value("corner_radius_mm", 0.0);
    if (json.contains("rim_height_mm")) blank.rim_height_mm = json.at("rim_height_mm");
    if (json.contains("hole")) {
        const auto& hole = json.at("hole");
        blank.hole = HoleSettings{hole.at("diameter_mm"), hole.at("from_top_mm")};
    }
    return blank;
}

}  // namespace rakelight
