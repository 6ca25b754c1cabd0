#include "poses/pose_record.hpp"

#include <cmath>
#include <fstream>
#include <iterator>

#include "batch/blank_json.hpp"
#include "error.hpp"

namespace rakelight {
namespace {

using Json = nlohmann::ordered_json;

constexpr int record_version = 2;

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

// As `rakelight poses` writes them; a scene file takes no others.
bool is_sound(const PoseRecord& record) {
    constexpr double longest_mm = 2000.0, most_zoom = 1000.0;
    constexpr int longest_px = 1 << 20;
    const BlankSettings& blank = record.blank;
    const auto length = [](double mm) { return mm >= 0.0 && mm <= longest_mm; };
    const bool hole =
        !blank.hole || (length(blank.hole->diameter_mm) && blank.hole->diameter_mm > 0.0 &&
                        length(blank.hole->from_top_mm));
    const auto side = [](int px) { return px >= 0 && px <= longest_px; };
    return length(blank.width_mm) && blank.width_mm > 0.0 && length(blank.height_mm) &&
           blank.height_mm > 0.0 && length(blank.rim_mm) && length(blank.exergue_mm) &&
           length(blank.corner_radius_mm) && length(record.peak_mm) && hole &&
           side(record.width_px) && side(record.height_px) && record.zoom > 0.0 &&
           record.zoom <= most_zoom && record.px_per_mm >= 0.0 && record.pose.view_deg >= 1.0 &&
           record.pose.view_deg <= 120.0;
}

// A whole number without a sign that fits; the conversion of any other would be undefined.
template <class Whole>
Whole whole_from(const Json& json) {
    if (!json.is_number_unsigned() || json.get<std::uint64_t>() > std::uint64_t{1} << 30)
        throw Json::other_error::create(501, "no whole number", &json);
    return static_cast<Whole>(json.get<std::uint64_t>());
}

PoseRecord record_from(const Json& json) {
    PoseRecord record;
    record.name = json.at("name");
    record.number = whole_from<std::size_t>(json.at("number"));
    record.of = whole_from<std::size_t>(json.at("of"));
    record.scene = json.at("scene");
    record.pose = pose_from(json.at("pose"));
    record.zoom = json.at("pose").at("zoom");
    record.key = json.at("key");
    record.usable = json.at("usable");
    record.reason = json.at("reason");
    record.figures = figures_from(json.at("figures"));
    record.blank = blank_from_json(json.at("blank"));
    record.width_px = whole_from<int>(json.at("width_px"));
    record.height_px = whole_from<int>(json.at("height_px"));
    record.px_per_mm = json.at("px_per_mm");
    record.peak_mm = json.at("peak_mm");
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
                       {"peak_mm", record.peak_mm},
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
        PoseRecord record = record_from(json);
        if (!is_sound(record)) refuse(file, "numbers that no pose has");
        return record;
    } catch (const Json::exception&) {
        refuse(file, "no whole pose record");
    }
}

}  // namespace rakelight
