#include "model/readers/stated.hpp"

#include <array>
#include <charconv>
#include <cmath>
#include <optional>

#include "model/readers/text_scan.hpp"

namespace rakelight {
namespace {

constexpr std::string_view by_file = "stated by the file";

/// A number above 0 that is the whole text.
std::optional<double> positive(std::string_view text) {
    text = trimmed(text);
    double value = 0.0;
    const auto read = std::from_chars(text.data(), text.data() + text.size(), value);
    if (read.ec != std::errc{} || read.ptr != text.data() + text.size()) return std::nullopt;
    if (!std::isfinite(value) || value <= 0.0) return std::nullopt;
    return value;
}

void set_unit(ModelFacts& facts, double mm, std::string_view reason = by_file) {
    if (!std::isfinite(mm)) return;  // more metres than millimetres can say
    facts.mm_per_unit = mm;
    facts.unit_reason = reason;
}

// XML, as far as a start tag's attributes. These files were parsed by the importer before: they are
// well-formed.

/// The first start tag of an element, from behind its name to before its end; empty if there is
/// none.
std::string_view start_tag(std::string_view text, std::string_view element) {
    for (std::size_t at = 0; (at = text.find('<', at)) != std::string_view::npos; ++at) {
        const std::string_view tag = text.substr(at + 1, text.find('>', at) - at - 1);
        if (tag.starts_with(element) && tag.size() > element.size() &&
            is_gap(tag[element.size()]))
            return tag.substr(element.size());
    }
    return {};
}

std::string_view attribute(std::string_view tag, std::string_view name) {
    for (std::size_t at = 0; (at = tag.find(name, at)) != std::string_view::npos; ++at) {
        if (at == 0 || !is_gap(tag[at - 1])) continue;
        std::string_view rest = trimmed(tag.substr(at + name.size()));
        if (!rest.starts_with('=')) continue;
        rest = trimmed(rest.substr(1));
        if (rest.empty() || (rest[0] != '"' && rest[0] != '\'')) return {};
        return rest.substr(1, rest.find(rest[0], 1) - 1);
    }
    return {};
}

std::string_view content(std::string_view text, std::string_view element) {
    const std::string open = "<" + std::string(element) + ">";
    const std::size_t at = text.find(open);
    if (at == std::string_view::npos) return {};
    text.remove_prefix(at + open.size());
    return trimmed(text.substr(0, text.find('<')));
}

// ISO/ASTM 52915, section 6.2 (unit), here from memory: millimeter, inch, feet, meter, micron.
void read_amf(std::string_view text, ModelFacts& facts) {
    const std::string_view unit = attribute(start_tag(text, "amf"), "unit");
    if (unit.starts_with("millimeter")) set_unit(facts, 1.0);
    if (unit == "inch") set_unit(facts, 25.4);
    if (unit == "feet") set_unit(facts, 304.8);
    if (unit == "meter") set_unit(facts, 1000.0);
    if (unit == "micron") set_unit(facts, 0.001);
}

// COLLADA 1.4.1 specification, <asset>: <unit meter> is 1 and <up_axis> Y_UP where they are left
// out. The importer scales and turns by them.
void read_collada(std::string_view text, ModelFacts& facts) {
    const std::string_view metre = trimmed(attribute(start_tag(text, "unit"), "meter"));
    constexpr std::size_t longest_number = 40;
    if (metre.empty()) facts.unit_reason = "metres, the format's default";
    // Anything else than a number is not passed on: it would end up on a terminal.
    if (positive(metre) && metre.size() <= longest_number)
        facts.unit_reason =
            "stated by the file as " + std::string(metre) + " m; the importer scales it to metres";
    const std::string_view up = content(text, "up_axis");
    if (up.empty()) facts.up_reason = "the format's default";
    if (up == "Y_UP") facts.up_reason = by_file;
    if (up == "X_UP" || up == "Z_UP")
        facts.up_reason = std::string("stated by the file as +") + (up[0] == 'X' ? 'x' : 'z') +
                          "; the importer turns it to +y";
}

// X3D, ISO/IEC 19775-1, section 7.2.5.12 (UNIT statement): a conversion factor to metres.
void read_x3d(std::string_view text, ModelFacts& facts) {
    for (;;) {
        const std::string_view tag = start_tag(text, "unit");
        if (tag.empty()) return;
        text.remove_prefix(static_cast<std::size_t>(tag.data() - text.data()));
        if (attribute(tag, "category") != "length") continue;
        if (const auto metres = positive(attribute(tag, "conversionFactor")))
            set_unit(facts, 1000.0 * *metres);
        return;
    }
}

// DXF reference, header variables: $INSUNITS, group code 70.
void read_dxf(std::string_view text, ModelFacts& facts) {
    const std::size_t at = text.find("$INSUNITS");
    if (at == std::string_view::npos) return;
    std::string_view rest = text.substr(at + 9);
    const auto line = [&rest] {
        rest.remove_prefix(std::min(rest.size(), rest.find('\n') + 1));
        return trimmed(rest.substr(0, rest.find('\n')));
    };
    if (line() != "70") return;
    constexpr std::array<std::pair<std::string_view, double>, 12> units{{{"1", 25.4},
                                                                         {"2", 304.8},
                                                                         {"3", 1609344.0},
                                                                         {"4", 1.0},
                                                                         {"5", 10.0},
                                                                         {"6", 1000.0},
                                                                         {"7", 1e6},
                                                                         {"8", 25.4e-6},
                                                                         {"9", 0.0254},
                                                                         {"10", 914.4},
                                                                         {"13", 1e-3},
                                                                         {"14", 100.0}}};
    const std::string_view code = line();
    for (const auto& [name, mm] : units)
        if (name == code) set_unit(facts, mm);
}

/// The value of an OpenGEX metric: Metric (key = "distance") {float {0.01}}
std::string_view metric(std::string_view text, std::string_view key) {
    const std::string quoted = '"' + std::string(key) + '"';
    for (std::size_t at = 0; (at = text.find("Metric", at)) != std::string_view::npos; ++at) {
        const std::string_view one = text.substr(at, text.find("}}", at) - at);
        if (one.find(quoted) > one.find(')')) continue;
        const std::size_t value = one.rfind('{');
        std::string_view word = trimmed(one.substr(value + 1));
        if (word.size() > 1 && word.front() == '"') word = word.substr(1, word.size() - 2);
        return word;
    }
    return {};
}

bool is_axis(std::string_view word) {
    return word.size() == 2 && (word[0] == '+' || word[0] == '-') && word[1] >= 'x' &&
           word[1] <= 'z';
}

std::string axis_of(std::string_view word) {
    const std::string axis = word.size() == 1 ? "+" + std::string(word) : std::string(word);
    return is_axis(axis) ? axis : std::string();
}

// Open Game Engine Exchange specification, Metric: "distance" in metres, "up" z where left out.
void read_opengex(std::string_view text, ModelFacts& facts) {
    if (const auto metres = positive(metric(text, "distance"))) set_unit(facts, 1000.0 * *metres);
    if (const std::string up = axis_of(metric(text, "up")); !up.empty()) {
        facts.up = up;
        facts.up_reason = by_file;
    }
    const std::string front = axis_of(metric(text, "forward"));
    if (front.empty() || front[1] == facts.up[1]) return;
    facts.front = front;
    facts.front_reason = by_file;
}

// Neutral File Format: the view's "up x y z", which is the only word on what is up.
void read_nff(std::string_view text, ModelFacts& facts) {
    const std::size_t at = text.find("\nup ");
    if (at == std::string_view::npos) return;
    std::string_view line = trimmed(text.substr(at + 4, text.find('\n', at + 1) - at - 4));
    for (int axis = 0; axis < 3; ++axis) {
        double value = 0.0;
        const auto read = std::from_chars(line.data(), line.data() + line.size(), value);
        if (read.ec != std::errc{}) return;
        line = trimmed(line.substr(static_cast<std::size_t>(read.ptr - line.data())));
        if (std::abs(value) < 0.9) continue;
        facts.up = std::string(value < 0.0 ? "-" : "+") + "xyz"[axis];
        facts.up_reason = "the up of the file's view";
    }
}

}  // namespace

void apply_stated(const std::string& format, std::string_view text, ModelFacts& facts) {
    if (format == "AMF") read_amf(text, facts);
    if (format == "COLLADA") read_collada(text, facts);
    if (format == "X3D") read_x3d(text, facts);
    if (format == "DXF") read_dxf(text, facts);
    if (format == "OpenGEX") read_opengex(text, facts);
    if (format == "NFF") read_nff(text, facts);
}

}  // namespace rakelight
