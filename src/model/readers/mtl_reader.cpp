#include "model/readers/mtl_reader.hpp"

#include <algorithm>
#include <charconv>
#include <cmath>
#include <cstddef>
#include <map>

#include "model/readers/text_scan.hpp"

namespace rakelight {
namespace {

/// Takes the first word and the blanks around it from a trimmed text.
std::string_view take_word(std::string_view& text) {
    const auto end = std::find_if(text.begin(), text.end(), is_gap);
    const auto size = static_cast<std::size_t>(end - text.begin());
    const std::string_view word = text.substr(0, size);
    text = trimmed(text.substr(size));
    return word;
}

std::optional<double> number_of(std::string_view word) {
    if (word.starts_with('+')) word.remove_prefix(1);
    double value = 0.0;
    const char* end = word.data() + word.size();
    const auto [after, fault] = std::from_chars(word.data(), end, value);
    if (fault != std::errc{} || after != end || !std::isfinite(value)) return std::nullopt;
    return value;
}

/// Takes up to `most` numbers; never the last word, which is the picture's name.
std::vector<double> take_numbers(std::string_view& text, std::size_t most) {
    std::vector<double> numbers;
    while (numbers.size() < most) {
        std::string_view rest = text;
        const std::optional<double> number = number_of(take_word(rest));
        if (!number || rest.empty()) break;
        numbers.push_back(*number);
        text = rest;
    }
    return numbers;
}

/// Takes an option's values. Those that are left away keep what they are.
void take_option(std::string_view option, std::string_view& text, MtlMap& map) {
    const auto take_uvw = [&](std::array<double, 2>& uv) {
        const std::vector<double> uvw = take_numbers(text, 3);
        std::copy_n(uvw.begin(), std::min<std::size_t>(uvw.size(), 2), uv.begin());
    };
    std::array<double, 2> unused{};
    if (option == "-s") return take_uvw(map.scale);
    if (option == "-o") return take_uvw(map.offset);
    if (option == "-t") return take_uvw(unused);
    if (option == "-mm") {  // a base, which lifts all alike, and a gain
        const std::vector<double> range = take_numbers(text, 2);
        if (range.size() == 2) map.strength *= range[1];
    } else if (option == "-bm") {
        const std::vector<double> factor = take_numbers(text, 1);
        if (!factor.empty()) map.strength *= factor[0];
    } else if (text.find_first_of(" \t") != std::string_view::npos) {
        const std::string value = lower(std::string(take_word(text)));
        if (option == "-clamp") map.clamps = value == "on";
    }
}

std::string without_quotes(std::string_view name) {
    if (name.size() > 1 && name.front() == '"' && name.back() == '"')
        name = trimmed(name.substr(1, name.size() - 2));
    return std::string(name);
}

/// @param text  what stands behind the keyword
std::optional<MtlMap> map_of(std::string_view text) {
    MtlMap map;
    while (text.starts_with('-')) {
        std::string_view rest = text;
        const std::string option = lower(std::string(take_word(rest)));
        if (rest.empty()) break;  // a picture's name
        text = rest;
        take_option(option, text, map);
    }
    map.strength = std::clamp(map.strength, -100.0, 100.0);
    map.picture = without_quotes(text);
    if (map.picture.empty()) return std::nullopt;
    return map;
}

/// Where a map of this keyword goes. The specification has bump, disp and map_d; the others are
/// what programs write.
std::optional<MtlMap> MtlMaterial::*slot_of(const std::string& keyword) {
    if (keyword == "norm" || keyword == "map_kn") return &MtlMaterial::normal;
    if (keyword == "bump" || keyword == "map_bump") return &MtlMaterial::bump;
    if (keyword == "disp" || keyword == "map_disp") return &MtlMaterial::displacement;
    if (keyword == "map_d") return &MtlMaterial::cut_out;
    return nullptr;
}

std::string_view take_line(std::string_view& text) {
    const std::size_t end = std::min(text.find_first_of("\r\n"), text.size());
    const std::string_view line = text.substr(0, end);
    text.remove_prefix(std::min(end + 1, text.size()));
    return trimmed(line);
}

}  // namespace

std::vector<MtlMaterial> read_mtl(std::string_view text) {
    std::vector<MtlMaterial> materials;
    std::map<std::string, std::size_t> numbers;
    std::size_t current = 0;
    if (text.starts_with("\xEF\xBB\xBF")) text.remove_prefix(3);
    while (!text.empty()) {
        std::string_view line = take_line(text);
        const std::string keyword = lower(std::string(take_word(line)));
        if (keyword == "newmtl") {
            std::string name(line);
            std::replace(name.begin(), name.end(), '\\', '/');
            const auto [known, is_new] = numbers.emplace(name, materials.size());
            if (is_new) materials.push_back({std::move(name), {}, {}, {}, {}});
            current = known->second;
        } else if (const auto slot = slot_of(keyword); slot != nullptr && !materials.empty()) {
            if (auto map = map_of(line)) materials[current].*slot = std::move(map);
        }
    }
    return materials;
}

}  // namespace rakelight
