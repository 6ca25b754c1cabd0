#include "batch/manifest.hpp"

#include <nlohmann/json.hpp>

#include "batch/blank_json.hpp"
#include "batch/relief_files.hpp"
#include "version.hpp"

namespace rakelight {
namespace {

using Json = nlohmann::ordered_json;

Json pair_of(glm::dvec2 v) {
    return Json::array({v.x, v.y});
}
Json triple_of(glm::dvec3 v) {
    return Json::array({v.x, v.y, v.z});
}

// Rows of a matrix, as one writes it on paper.
template <typename Matrix>
Json rows_of(const Matrix& m) {
    Json rows = Json::array();
    for (int row = 0; row < m[0].length(); ++row) {
        Json line = Json::array();
        for (int column = 0; column < m.length(); ++column) line.push_back(m[column][row]);
        rows.push_back(line);
    }
    return rows;
}

Json numbers_of(const std::vector<NamedNumber>& numbers) {
    Json object = Json::object();
    for (const auto& [name, value] : numbers) object[name] = value;
    return object;
}

Json image_of(const PreparedScene& prepared) {
    const ImageGrid& grid = prepared.framing.grid;
    return {{"width_px", grid.width},
            {"height_px", grid.height},
            {"px_per_mm", grid.px_per_mm},
            {"px_per_m", std::lround(grid.px_per_mm * 1000.0)},
            {"covers", prepared.scene.image.covers == Covers::blank ? "blank" : "field"},
            {"left_mm", grid.left_mm},
            {"top_mm", grid.top_mm},
            {"samples_per_axis", prepared.scene.image.samples},
            {"origin",
             "top left; pixel (i, j) has its centre at left_mm + (i + 0.5) / px_per_mm, "
             "top_mm - (j + 0.5) / px_per_mm, from the blank's middle, y up"}};
}

Json model_of(const PreparedScene& prepared) {
    const ModelFacts& facts = prepared.mesh.facts();
    const ModelSettings& settings = prepared.scene.model;
    Json parts = Json::array();
    std::uint64_t triangles = 0;
    for (std::size_t i = 0; i < prepared.used.size(); ++i) {
        if (!prepared.used[i]) continue;
        parts.push_back(prepared.mesh.parts()[i].name);
        triangles += prepared.mesh.parts()[i].triangle_count;
    }
    return {{"file", settings.file_as_written},
            {"hash", prepared.mesh.hash()},
            {"bytes", prepared.mesh.file_bytes()},
            {"format", facts.format},
            {"up", settings.up ? axis_name(*settings.up) : facts.up},
            {"up_reason", settings.up ? "set in the scene" : facts.up_reason},
            {"mm_per_unit", settings.mm_per_unit.value_or(facts.mm_per_unit)},
            {"subdivision", facts.subdivision},
            {"normals", facts.normals},
            {"shown", facts.rig.shown},
            {"parts_used", parts},
            {"triangles_used", triangles},
            {"closed", facts.closed},
            {"dropped_degenerate", facts.dropped_degenerate},
            {"dropped_not_finite", facts.dropped_not_finite},
            {"dropped_doubled", facts.dropped_doubled},
            {"flipped_windings", facts.flipped_windings},
            {"broken_normals", facts.broken_normals}};
}

// Homogeneous: (u, v, w) = matrix (x, y, z, 1) of view space; the pixel is (u / w, v / w), whole
// numbers at pixel corners.
glm::dmat4x3 pixel_from_view(const Camera& camera, const ImageGrid& grid) {
    const bool perspective = camera.projection == Projection::perspective;
    const double weight_z = perspective ? -1.0 / camera.eye_mm : 0.0;
    const double s = grid.px_per_mm;
    const double x = s * (camera.picture_mm.x - grid.left_mm);
    const double y = s * (grid.top_mm - camera.picture_mm.y);
    return {{s, 0, 0}, {0, -s, 0}, {x * weight_z, y * weight_z, weight_z}, {x, y, 1}};
}

Json camera_of(const Framing& framing) {
    const Camera& camera = framing.camera;
    glm::dmat4 view(camera.mm_per_unit * camera.view_from_model);
    view[3] = glm::dvec4(camera.view_mm(glm::dvec3(0.0)), 1.0);
    Json json = {
        {"projection", camera.projection == Projection::parallel ? "parallel" : "perspective"},
        {"locked", framing.locked},
        {"mm_per_unit", camera.mm_per_unit},
        {"centre_model", triple_of(camera.centre_model)},
        {"picture_mm", pair_of(camera.picture_mm)}};
    if (camera.projection == Projection::perspective) json["eye_mm"] = camera.eye_mm;
    json["view_mm_from_model"] = rows_of(view);
    json["pixel_from_view_mm"] = rows_of(pixel_from_view(camera, framing.grid));
    json["view_space"] =
        "mm on the blank; +x right, +y up, +z to the viewer; the subject's centre "
        "at the origin; depth z of the passes is -z of view space";
    return json;
}

Json subject_of(const Framing& framing, const VisibleSubject& visible) {
    const SubjectOnBlank& subject = framing.subject;
    return {{"size_mm", pair_of(subject.size_mm())},
            {"low_mm", pair_of(subject.low_mm)},
            {"high_mm", pair_of(subject.high_mm)},
            {"outside_field_mm", subject.outside_field_mm},
            {"outside_image_mm", subject.outside_image_mm},
            {"visible_pixels", visible.pixels},
            {"visible_box_px",
             Json::array({visible.box.x, visible.box.y, visible.box.width, visible.box.height})},
            {"area_mm2", visible.area_mm2},
            {"field_share", visible.field_share},
            {"over_hole_mm2", visible.over_hole_mm2},
            {"near_mm", visible.near_mm},
            {"far_mm", visible.far_mm}};
}

Json pass_of(const Picture& picture) {
    Json json = {{"name", picture.name},
                 {"file", picture.file},
                 {"channels", picture.channels},
                 {"meaning", picture.meaning},
                 {"encoding", picture.encoding},
                 {"numbers", numbers_of(picture.numbers)},
                 {"statistics", numbers_of(picture.statistics)},
                 {"clipped", picture.clipped}};
    if (!picture.figures.empty()) json["figures"] = numbers_of(picture.figures);
    return json;
}

}  // namespace

std::string manifest_text(const PreparedScene& prepared, const std::vector<Picture>& pictures,
                          const VisibleSubject& visible, const GraphicsFacts& graphics,
                          const std::vector<std::string>& warnings) {
    Json json = {{"manifest_version", manifest_version},
                 {"program", {{"name", "rakelight"}, {"version", version}}},
                 {"scene", prepared.scene.name},
                 {"image", image_of(prepared)},
                 {"blank", blank_json(prepared.scene.blank)},
                 {"model", model_of(prepared)},
                 {"camera", camera_of(prepared.framing)},
                 {"subject", subject_of(prepared.framing, visible)}};
    json["passes"] = Json::array();
    for (const auto& picture : pictures) json["passes"].push_back(pass_of(picture));
    json["files_beside"] = Json::array();
    for (const ReliefFile& file : relief_files(prepared.scene, false))
        json["files_beside"].push_back({{"file", file.file}, {"meaning", file.meaning}});
    json["graphics"] = {{"context", graphics.way},
                        {"vendor", graphics.vendor},
                        {"renderer", graphics.renderer},
                        {"opengl", graphics.gl_version}};
    json["warnings"] = warnings;
    return json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n";
}

std::string timings_text(const PreparedScene& prepared, const StepTimes& times) {
    Json gpu = Json::object();
    for (const auto& [step, seconds] : times.render.gpu_s) gpu[step + "_s"] = seconds;
    const Json json = {{"load_s", prepared.load_s},
                       {"from_cache", prepared.mesh.from_cache()},
                       {"frame_s", prepared.frame_s},
                       {"upload_s", times.upload_s},
                       {"raster_s", times.render.raster_s},
                       {"occlusion_s", times.render.occlusion_s},
                       {"curvature_s", times.render.curvature_s},
                       {"read_back_s", times.render.read_back_s},
                       {"gpu", gpu},
                       {"encode_s", times.encode_s},
                       {"write_s", times.write_s}};
    return json.dump(2) + "\n";
}

}  // namespace rakelight
