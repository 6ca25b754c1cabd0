// [locked]: a camera that `rakelight lock` wrote, taken exactly as it stands.

#include <array>
#include <cmath>

#include "scene/sections.hpp"
#include "scene/words.hpp"

namespace rakelight::scene_file {

namespace {

constexpr std::string_view lock_again = "Delete the [locked] table and run rakelight lock again.";

/// Largest entry of |R R^T - 1|, or 1 for a mirror image: 0 for a rotation.
double rotation_error(const glm::dmat3& matrix) {
    const glm::dmat3 rest = matrix * glm::transpose(matrix) - glm::dmat3(1.0);
    double worst = glm::determinant(matrix) > 0.0 ? 0.0 : 1.0;
    for (int column = 0; column < 3; ++column) {
        for (int row = 0; row < 3; ++row) {
            // Written so that a NaN (numbers that overflow) counts as an error.
            const double error = std::abs(rest[column][row]);
            if (!(error <= worst)) worst = error;
        }
    }
    return worst;
}

void check_rotation(Report& report, const glm::dmat3& matrix, const Found& found) {
    // A written matrix is exact to 1 in 1e16; whoever rounds it by hand notices before the picture
    // does: 1e-9 of a 2 m blank is 2 nm.
    constexpr double most = 1e-9;
    const double error = rotation_error(matrix);
    if (error <= most) return;
    misfit(report, {&found}, "a matrix that is off a rotation by " + number_text(error),
           "a rotation within 1e-9", std::string(lock_again));
}

void check_eye(Report& report, const LockedCamera& camera, const Found& projection,
               const Found& eye) {
    const bool perspective = camera.projection == Projection::perspective;
    if (perspective == (camera.eye_mm > 0.0)) return;
    misfit(report, {&eye, &projection}, number_text(camera.eye_mm),
           perspective ? "a number above 0, in mm, with projection = \"perspective\""
                       : "0.0 with projection = \"parallel\"",
           std::string(lock_again));
}

glm::dmat3 from_rows(const std::array<double, 9>& rows) {
    glm::dmat3 matrix;
    for (int row = 0; row < 3; ++row) {
        for (int column = 0; column < 3; ++column) {
            matrix[column][row] = rows[static_cast<std::size_t>(3 * row + column)];
        }
    }
    return matrix;
}

}  // namespace

std::optional<LockedCamera> read_locked(TableReader table, Report& report) {
    if (!table.present()) return std::nullopt;
    LockedCamera camera;
    std::array<double, 9> rows{1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0};
    std::array<double, 3> centre{};
    std::array<double, 2> picture{};
    std::array<Found, 8> found{
        table.word("projection", camera.projection, projections),
        table.text("model_hash", camera.model_hash),
        table.text("settings_hash", camera.settings_hash),
        table.rows("view_from_model", rows),
        table.numbers("centre_model", centre, any_number, "x, y and z in model units"),
        table.number("mm_per_unit", camera.mm_per_unit, above(0.0)),
        table.numbers("picture_mm", picture, any_number.in("mm"), "right and up"),
        table.number("eye_mm", camera.eye_mm, at_least(0.0).in("mm"))};
    for (Found& key : found) {
        table.need(key, "every key that rakelight lock writes", lock_again);
    }
    table.finish();

    camera.view_from_model = from_rows(rows);
    camera.centre_model = {centre[0], centre[1], centre[2]};
    camera.picture_mm = {picture[0], picture[1]};
    check_rotation(report, camera.view_from_model, found[3]);
    check_eye(report, camera, found[0], found[7]);
    return camera;
}

}  // namespace rakelight::scene_file
