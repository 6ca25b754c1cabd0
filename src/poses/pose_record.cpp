#include "poses/pose_record.hpp"

#include <cmath>
#include <fstream>
#include <iterator>

#include "batch/blank_json.hpp"
#include "error.hpp"

namespace rakelight {
namespace {

using Json = nlohmann::ordered_json;

constexpr int record_version = 1;

Json number_or_null(double value) {
    return std::isfinite(value) ? Json(value) : Json(nullptr);
}

Json figures_json(const PoseFigures& figures) {
    Json json = Json::object();
    for (const PoseFigure& figure : pose_figures())
        json[std::string(figure.name)] = number_or_null(figures.*figure.value);
    return json;
}

Json pose_json(const PoseSettings& pose, double zoom) {
    Json json = {
        {"yaw_deg", pose.yaw_deg},
        {"pitch_deg", pose.pitch_deg},
        {"roll_deg", pose.roll_deg},
        {"projection", pose.projection == Projection::perspective ? "perspective" : "parallel"}};
    if (pose.projection == Projection::perspective) json["view_deg"] = pose.view_deg;
    json["zoom"] = zoom;
    return json;
}

PoseFigures figures_from(const Json& json) {
    PoseFigures figures;
    for (const PoseFigure& figure : pose_figures()) {
        const auto found = json.find(std::string(figure.name));
        if (found != json.end() && found->is_number()) figures.*figure.value = found->get<double>();
    }
    return figures;
}

PoseSettings pose_from(const Json& json) {
    PoseSettings pose;
    pose.yaw_deg = json.at("yaw_deg");
    pose.pitch_deg = json.at("pitch_deg");
    pose.roll_deg = json.at("roll_deg");
    if (json.at("projection") == "perspective") pose.projection = Projection::perspective;
    pose.view_deg = json.value("view_deg", pose.view_deg);
    return pose;
}

PoseRecord record_from(const Json& json) {
    PoseRecord record;
    record.name = json.at("name");
    record.number = json.at("number");
    record.of = json.at("of");
    record.scene = json.at("scene");
    record.pose = pose_from(json.at("pose"));
    record.zoom = json.at("pose").at("zoom");
    record.key = json.at("key");
    record.usable = json.at("usable");
    record.reason = json.at("reason");
    record.figures = figures_from(json.at("figures"));
    record.blank = blank_from_json(json.at("blank"));
    record.width_px = json.at("width_px");
    record.height_px = json.at("height_px");
    record.px_per_mm = json.at("px_per_mm");
    record.files = json.at("files").get<std::vector<std::string>>();
    record.warnings = json.at("warnings").get<std::vector<std::string>>();
    return record;
}

[[noreturn]] void refuse(const std::filesystem::path& file, const std::string& found) {
    throw Error(
        ExitCode::bad_scene,
        file.string() + ": found " + found +
            "; expected a record that `rakelight poses` of this version wrote: run it again "
            "on that folder");
}

}  // namespace

std::string pose_record_text(const PoseRecord& record) {
    const Json json = {{"record_version", record_version},
                       {"name", record.name},
                       {"number", record.number},
                       {"of", record.of},
                       {"scene", record.scene},
                       {"pose", pose_json(record.pose, record.zoom)},
                       {"usable", record.usable},
                       {"reason", record.reason},
                       {"figures", figures_json(record.figures)},
                       {"blank", blank_json(record.blank)},
                       {"width_px", record.width_px},
                       {"height_px", record.height_px},
                       {"px_per_mm", record.px_per_mm},
                       {"files", record.files},
                       {"warnings", record.warnings},
                       {"key", record.key}};
    return json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

PoseRecord read_pose_record(const std::filesystem::path& file) {
    std::ifstream stream(file, std::ios::binary);
    if (!stream) refuse(file, "no file that can be read");
    const std::string text{std::istreambuf_iterator<char>(stream), {}};
    try {
        const Json json = Json::parse(text);
        if (json.at("record_version") != record_version)
            refuse(file, "a record of another version");
        return record_from(json);
    } catch (const Json::exception&) {
        refuse(file, "no whole pose record");
    }
}

}  // namespace rakelight
