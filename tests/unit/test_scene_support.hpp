#pragma once
// What the scene's tests share: messages of faults, and a whole scene as text to compare.

#include <doctest/doctest.h>

#include <array>
#include <string>
#include <vector>

#include "error.hpp"
#include "scene/scene.hpp"

namespace rakelight::test {

inline Scene parse(const std::string& text, const std::vector<Override>& overrides = {}) {
    return parse_scene(text, "medal.toml", overrides);
}

/// The message that the text is refused with; empty when it is accepted.
inline std::string fault_of(const std::string& text, const std::vector<Override>& overrides = {},
                            ExitCode code = ExitCode::bad_scene) {
    try {
        parse(text, overrides);
    } catch (const Error& error) {
        CHECK(error.code() == code);
        return error.what();
    }
    return "";
}

inline bool contains(const std::string& text, const std::string& words) {
    return text.find(words) != std::string::npos;
}

/// Two tables that are enough for a scene.
inline const std::string smallest = "[blank]\n[model]\nfile = \"ammonite.ply\"\n";

/// Every setting of a scene, one a line, doubles to the last bit.
std::string dump(const Scene& scene);

/// A scene that uses every key but `framing.mm_per_unit`, with comments and all kinds of strings.
inline const std::string full_scene = R"(# The medal of the fossil club's field day.
[blank]
shape = "rectangle"        # with ] and " in a comment
width_mm = 30
height_mm = 50.0
corner_radius_mm = 4.5
rim_mm = 1.2
exergue_mm = 6.0
hole = { diameter_mm = 3.0, from_top_mm = 4.0 }

[model]
file = 'parts\ammonite "A".ply'
up = "+y"
front = "-z"
unit = "in"
use = [
    "shell*",   # the [shell]
    "rib?",
]
skip = ["""
stand""", '''"base"''']
normals = "made"
crease_deg = 45.5

[pose]
yaw_deg = 25.0
pitch_deg = -10
roll_deg = 1e-3
projection = "perspective"
view_deg = 20

[framing]
fit = "blank"
margin_mm = 0.5
clear_hole = false
shift_mm = [0.25, -1]
zoom = 1.05

[image]
covers = "field"
px_per_mm = 20
samples = 5

[pass.depth]
near_margin = 0.02
far_margin = 0.0
range_mm = [-2.5, 3]
allow_clipping = true
[pass.occlusion]
reach_mm = 3.5
[pass.curvature]
scale_mm = 0.2
h_max_per_mm = 4
allow_clipping = true
[pass.silhouette]
[pass.contour]
step_mm = 0.4
[pass.normal]
[pass.blank]
[pass.parts]
names = ["shell", "rib*"]

[output]
folder = "../pictures"

[locked]
projection = "perspective"
model_hash = "xxh3:00112233445566778899aabbccddeeff"
settings_hash = "0123456789abcdef"
view_from_model = [
    [0.8, 0.0, -0.6],
    [0, 1, 0],
    [0.6, 0.0, 0.8],
]
centre_model = [1.5, -2, 1e-7]
mm_per_unit = 12.7
picture_mm = [0.25, -1.0]
eye_mm = 140.0

[pass.undercut]
least_mm = 0.02
most_mm = 4.5
allow_clipping = true
[pass.steep]
draft_deg = 7.5
depth_scale = 0.2
)";

}  // namespace rakelight::test
