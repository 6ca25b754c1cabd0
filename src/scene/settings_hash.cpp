// Settings as canonical text, to tell equal ones from others: a hash over what a locked camera came
// from, so that a scene can tell when its lock is out of date, and what a mesh was read with.

#include <xxhash.h>

#include <array>
#include <charconv>

#include "scene/scene.hpp"
#include "scene/words.hpp"

namespace rakelight {

namespace {

/// A canonical text: one "name=value;" after another. Numbers have 17 significant digits (%.17g in
/// the C locale), which tell all doubles apart; texts are quoted, so that no two lists of names
/// read the same.
class Canonical {
public:
    void add(std::string_view name, double number) {
        std::array<char, 32> digits{};
        // -0 is the same setting as 0.
        const auto [end, fault] = std::to_chars(digits.data(), digits.data() + digits.size(),
                                                number + 0.0, std::chars_format::general, 17);
        add_raw(name, std::string_view(digits.data(), end));
    }
    void add(std::string_view name, const std::optional<double>& number) {
        if (number) return add(name, *number);
        add_raw(name, "auto");
    }
    /// Of an enumeration: its name, which stays when the enumeration's order does not.
    void add_word(std::string_view name, std::string_view word) { add_raw(name, word); }
    void add(std::string_view name, const std::vector<std::string>& texts) {
        std::string list;
        for (const std::string& text : texts) list += scene_file::toml_string(text);
        add_raw(name, list);
    }
    const std::string& text() const { return text_; }

private:
    void add_raw(std::string_view name, std::string_view value) {
        text_.append(name).append("=").append(value).append(";");
    }
    std::string text_;
};

std::string_view word(const std::optional<Axis>& axis) {
    if (!axis) return "auto";
    constexpr std::array<std::string_view, 6> names{"+x", "-x", "+y", "-y", "+z", "-z"};
    return names[static_cast<std::size_t>(*axis)];
}

std::string_view word(NormalSource source) {
    constexpr std::array<std::string_view, 3> names{"auto", "file", "made"};
    return names[static_cast<std::size_t>(source)];
}

std::string_view word(CageRule rule) {
    constexpr std::array<std::string_view, 3> names{"none", "catmull-clark", "loop"};
    return names[static_cast<std::size_t>(rule)];
}

std::string_view word(BlankShape shape) {
    constexpr std::array<std::string_view, 4> names{"round", "oval", "rectangle", "tag"};
    return names[static_cast<std::size_t>(shape)];
}

std::string_view word(Fit fit) {
    constexpr std::array<std::string_view, 3> names{"field", "blank", "none"};
    return names[static_cast<std::size_t>(fit)];
}

void add_model(Canonical& text, const ModelSettings& model) {
    text.add_word("up", word(model.up));
    text.add_word("front", word(model.front));
    text.add("use", model.use);
    text.add("skip", model.skip);
}

void add_pose(Canonical& text, const PoseSettings& pose) {
    text.add("yaw", pose.yaw_deg);
    text.add("pitch", pose.pitch_deg);
    text.add("roll", pose.roll_deg);
    const bool parallel = pose.projection == Projection::parallel;
    text.add_word("projection", parallel ? "parallel" : "perspective");
    text.add("view", pose.view_deg);
}

void add_framing(Canonical& text, const FramingSettings& framing) {
    text.add_word("fit", word(framing.fit));
    text.add("margin", framing.margin_mm);
    text.add_word("clear_hole", framing.clear_hole ? "true" : "false");
    text.add("shift_x", framing.shift_mm.x);
    text.add("shift_y", framing.shift_mm.y);
    text.add("zoom", framing.zoom);
    text.add("mm_per_unit", framing.mm_per_unit);
}

void add_blank(Canonical& text, const BlankSettings& blank) {
    text.add_word("shape", word(blank.shape));
    text.add("width", blank.width_mm);
    text.add("height", blank.height_mm);
    text.add("corner", blank.corner_radius_mm);
    text.add("rim", blank.rim_mm);
    text.add("exergue", blank.exergue_mm);
    if (!blank.hole) return;
    text.add("hole_diameter", blank.hole->diameter_mm);
    text.add("hole_from_top", blank.hole->from_top_mm);
}

std::string hex(std::uint64_t number) {
    constexpr std::string_view digits = "0123456789abcdef";
    std::string out(16, '0');
    for (std::size_t i = 0; i < 16; ++i) out[15 - i] = digits[(number >> (4 * i)) & 15];
    return out;
}

/// Nothing where nothing is set, so that what was hashed before these settings existed stays.
void add_posing(Canonical& text, const PosingSettings& posing) {
    if (posing.rest) text.add_word("rest", "true");
    if (!posing.clip.empty()) {
        text.add("clip", std::vector{posing.clip});
        text.add("clip_time", posing.clip_time_s);
    }
    if (posing.frame) text.add("frame", static_cast<double>(*posing.frame));
    for (const auto& [name, weight] : posing.shapes) {
        text.add("shape", std::vector{name});
        text.add("weight", weight);
    }
}

// What makes another surface of a cage; how finely it is cut moves no camera.
void add_cage(Canonical& text, const CageSettings& cage) {
    if (cage.rule == CageRule::none) return;
    text.add_word("cage", word(cage.rule));
    text.add("cage_crease", cage.crease_deg);
}

void add_reading(Canonical& text, const ReadingSettings& reading) {
    text.add_word("normals", word(reading.normals));
    text.add("crease", reading.crease_deg);
    add_posing(text, reading.posing);
    if (reading.outside_files) text.add_word("outside_files", "true");
    if (!reading.maps) text.add_word("maps", "none");
    if (reading.green_down) text.add_word("green", "down");
    add_cage(text, reading.cage);
    if (reading.cage.rule == CageRule::none) return;
    if (reading.cage.times) {
        text.add("cage_times", double(*reading.cage.times));
    } else {
        text.add("cage_edge_share", reading.cage.edge_share);
    }
}

}  // namespace

std::string reading_text(const ReadingSettings& reading) {
    Canonical canonical;
    add_reading(canonical, reading);
    return canonical.text();
}

std::string settings_hash(const Scene& scene) {
    Canonical canonical;
    add_model(canonical, scene.model);
    add_posing(canonical, scene.model.reading.posing);
    add_cage(canonical, scene.model.reading.cage);
    add_pose(canonical, scene.pose);
    add_framing(canonical, scene.framing);
    add_blank(canonical, scene.blank);
    return text_hash(canonical.text());
}

std::string text_hash(std::string_view text) {
    return hex(XXH3_64bits(text.data(), text.size()));
}

}  // namespace rakelight
