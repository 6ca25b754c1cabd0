#include "scene/toml_text.hpp"

#include <toml++/toml.h>

#include "error.hpp"
#include "scene/scan.hpp"

namespace rakelight::scene_file {

namespace {

/// In the file of `origin`.
Place at(const toml::source_region& region, Place origin) {
    origin.line = static_cast<int>(region.begin.line);
    origin.column = static_cast<int>(region.begin.column);
    return origin;
}

/// Copies the parser's tree. Its depth is bounded: 256 nested values (the parser's own limit) of
/// at most 16 key parts each (first_text_fault).
class Copy {
public:
    explicit Copy(const Place& origin) : origin_(origin) {}

    Table table(const toml::table& from) const {
        Table out;
        for (auto&& [key, value] : from) {
            out.push_back({std::string(key.str()), place(key.source()), node(value)});
        }
        return out;
    }

private:
    Place place(const toml::source_region& region) const {
        return origin_.in_override() ? origin_ : at(region, origin_);
    }

    Node node(const toml::node& from) const {
        Node out{.value = DateOrTime{}, .place = place(from.source())};
        if (const auto* inner = from.as_table()) out.value = table(*inner);
        if (const auto* inner = from.as_array()) out.value = array(*inner);
        if (const auto* text = from.as_string()) out.value = text->get();
        if (const auto* number = from.as_integer()) out.value = number->get();
        if (const auto* number = from.as_floating_point()) out.value = number->get();
        if (const auto* truth = from.as_boolean()) out.value = truth->get();
        return out;
    }

    std::vector<Node> array(const toml::array& from) const {
        std::vector<Node> out;
        out.reserve(from.size());
        for (const toml::node& value : from) out.push_back(node(value));
        return out;
    }

    Place origin_;
};

/// The parser's words start with "Error while parsing THING: "; the thing goes last, since what
/// helps is what was expected.
std::string in_our_order(std::string_view description) {
    constexpr std::string_view opening = "Error while parsing ";
    const std::size_t colon = description.find(": ");
    if (!description.starts_with(opening) || colon == std::string_view::npos) {
        return std::string(description);
    }
    const std::string thing(description.substr(opening.size(), colon - opening.size()));
    return std::string(description.substr(colon + 2)) + " (in a " + thing + ")";
}

[[noreturn]] void throw_not_toml(const toml::parse_error& fault, const Place& origin,
                                 const Report& report) {
    const Place place = at(fault.source(), origin);
    throw Error(ExitCode::bad_scene,
                report.where(place) + ": not valid TOML: " + in_our_order(fault.description()));
}

}  // namespace

Table parse_toml(std::string_view text, const Place& origin, const Report& report) {
    if (const auto fault = first_text_fault(text)) {
        Place place = fault->place;
        place.override_index = origin.override_index;
        place.in_recipe = origin.in_recipe;
        throw Error(ExitCode::bad_scene,
                    report.message({place, "", fault->found, fault->expected, fault->hint}));
    }
    try {
        return Copy(origin).table(toml::parse(text));
    } catch (const toml::parse_error& fault) {
        throw_not_toml(fault, origin, report);
    }
}

}  // namespace rakelight::scene_file
