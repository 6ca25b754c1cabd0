#include "scene/report.hpp"

#include <algorithm>

#include "error.hpp"

namespace rakelight::scene_file {

KeyName KeyName::operator/(std::string_view key) const {
    KeyName inner = *this;
    if (!inner.dotted.empty()) inner.dotted += '.';
    inner.dotted += key;
    return inner;
}

std::string KeyName::label() const {
    const std::size_t dot = dotted.rfind('.');
    if (dot == std::string::npos) return table_label();
    return "[" + dotted.substr(0, dot) + "] " + dotted.substr(dot + 1);
}

Report::Report(const std::filesystem::path& path, const std::vector<Override>& overrides)
    : path_(path.string()), overrides_(overrides) {}

void Report::add_after(Place order, Fault fault) {
    faults_.push_back({order, message(fault)});
}

void Report::warn(Place place, const std::string& label, const std::string& text) {
    // Warnings go into the manifest too, which must not depend on where the scene lies.
    std::string at = place.in_override()
                         ? override_label(place.override_index)
                         : std::to_string(place.line) + ":" + std::to_string(place.column);
    if (place.in_recipe) at = "the recipe, " + at;
    warnings_.push_back({place, at + ": " + label + ": " + text});
}

void Report::throw_first() const {
    const auto first =
        std::min_element(faults_.begin(), faults_.end(),
                         [](const Entry& a, const Entry& b) { return a.order < b.order; });
    if (first != faults_.end()) throw Error(ExitCode::bad_scene, first->message);
}

std::vector<std::string> Report::warnings() const {
    std::vector<Entry> sorted = warnings_;
    std::stable_sort(sorted.begin(), sorted.end(),
                     [](const Entry& a, const Entry& b) { return a.order < b.order; });
    std::vector<std::string> texts;
    for (const Entry& entry : sorted) texts.push_back(entry.message);
    return texts;
}

std::string Report::override_label(int index) const {
    const Override& set = overrides_[static_cast<std::size_t>(index)];
    return "--set " + set.key + "=" + set.value;
}

std::string Report::where(const Place& place) const {
    if (place.in_override()) return override_label(place.override_index);
    if (place.nowhere()) return path_;
    return (place.in_recipe ? recipe_ : path_) + ":" + std::to_string(place.line) + ":" +
           std::to_string(place.column);
}

std::string Report::message(const Fault& fault) const {
    std::string text = where(fault.place) + ": ";
    // "--set blank.rim_mm=3: [blank] rim_mm:" would say the same twice.
    const bool said =
        fault.place.in_override() && !fault.label.empty() &&
        KeyName{overrides_[static_cast<std::size_t>(fault.place.override_index)].key}.label() ==
            fault.label;
    if (!fault.label.empty() && !said) text += fault.label + ": ";
    text += "found " + fault.found + "; expected " + fault.expected;
    if (!fault.hint.empty()) text += ". " + fault.hint;
    return text;
}

}  // namespace rakelight::scene_file
