// FBX SDK documentation, FbxNode, from memory: Visibility, a number, hides where it is 0; so does
// that of what an object hangs on, unless the object's own VisibilityInheritance, "Visibility
// Inheritance" in a file, is 0. Each is 1 where it is left out. How properties lie in a file is
// from memory too, and seen on the files of assimp-testmodels.

#include "model/readers/fbx_visibility.hpp"

#include <charconv>
#include <cstring>
#include <string_view>

namespace rakelight {
namespace {

constexpr std::string_view visibility = "Visibility", inheritance = "Visibility Inheritance";

// The importer knows types by their names, and neither of these, which are named as the property
// is: "Visibility", "Visibility", "", "A", 0. Name and type fill the same bytes in another way.
std::string widened(std::string_view name, std::string_view type) {
    std::string text(name);
    text.resize(2 * name.size() - type.size(), ' ');
    return text;
}

std::string_view type_of(std::string_view name) {
    return name == visibility ? "float" : "int";
}

std::string in_binary(std::string_view text) {
    std::string bytes = "S";
    for (std::size_t rest = text.size(), i = 0; i < 4; ++i, rest >>= 8)
        bytes += static_cast<char>(rest & 0xFF);
    return bytes.append(text);
}

/// Behind a text of a binary file that begins here; npos where there is none.
std::size_t behind_text(std::string_view bytes, std::size_t at) {
    if (at >= bytes.size() || bytes.size() - at < 5 || bytes[at] != 'S') return bytes.npos;
    std::size_t length = 0;
    for (std::size_t i = 4; i > 0; --i)
        length = length << 8 | static_cast<unsigned char>(bytes[at + i]);
    return length > bytes.size() - at - 5 ? bytes.npos : at + 5 + length;
}

/// Whether the value of a binary property is a 0 of the kind that the importer takes for its type.
bool is_binary_zero(std::string_view bytes, std::string_view name) {
    if (bytes.empty()) return false;
    const bool is_float = bytes[0] == 'D' || bytes[0] == 'F';
    if (is_float != (name == visibility) || (!is_float && bytes[0] != 'I')) return false;
    const std::size_t size = bytes[0] == 'D' ? 8 : 4;
    return bytes.size() > size &&
           bytes.substr(1, size).find_first_not_of('\0') == std::string_view::npos;
}

bool widen_binary(std::string_view name, std::string& file) {
    const std::string type(type_of(name));
    const std::string old_words = in_binary(name) + in_binary(name);
    const std::string new_words = in_binary(widened(name, type)) + in_binary(type);
    bool any = false;
    for (std::size_t at = 0; (at = file.find(old_words, at)) != file.npos; at += new_words.size()) {
        const std::size_t label = behind_text(file, at + old_words.size());
        const std::size_t value = label == file.npos ? label : behind_text(file, label);
        if (value == file.npos || !is_binary_zero(std::string_view(file).substr(value), name))
            continue;
        file.replace(at, old_words.size(), new_words);
        any = true;
    }
    return any;
}

/// The next of the values that commas part, without the blanks around it.
std::string_view take_value(std::string_view& text) {
    constexpr std::string_view blanks = " \t";
    // No number is longer; a text without commas would be read to its end from each of its words.
    constexpr std::size_t longest = 100;
    text.remove_prefix(std::min(text.size(), text.find_first_not_of(blanks)));
    const std::string_view near = text.substr(0, longest);
    const std::string_view value = near.substr(0, near.find_first_of(", \t\r\n"));
    text.remove_prefix(value.size());
    text.remove_prefix(std::min(text.size(), text.find_first_not_of(blanks)));
    if (text.starts_with(',')) text.remove_prefix(1);
    return value;
}

/// What stands in quotes and has a comma behind it; empty where something else comes.
std::string_view take_words(std::string_view& text) {
    text.remove_prefix(std::min(text.size(), text.find_first_not_of(" \t")));
    if (!text.starts_with('"')) return {};
    const std::size_t end = text.find_first_of("\"\n", 1);
    if (end == text.npos || text[end] != '"') return {};
    const std::string_view words = text.substr(1, end - 1);
    text.remove_prefix(end + 1);
    const bool has_comma = take_value(text).empty();
    return has_comma ? words : std::string_view();
}

bool is_text_zero(std::string_view value, std::string_view name) {
    double number = 1.0;
    const auto read = std::from_chars(value.data(), value.data() + value.size(), number);
    return read.ec == std::errc{} && read.ptr == value.data() + value.size() && number == 0.0 &&
           (name == visibility || value == "0");
}

bool widen_text(std::string_view name, std::string& file) {
    const std::string type(type_of(name)), quoted = '"' + std::string(name) + '"';
    bool any = false;
    for (std::size_t at = 0; (at = file.find(quoted, at)) != file.npos; at += quoted.size()) {
        std::string_view rest = std::string_view(file).substr(at);
        if (take_words(rest) != name) continue;
        const std::size_t type_at = file.find('"', file.size() - rest.size());
        if (take_words(rest) != name) continue;
        take_words(rest);  // a label and flags, mostly empty
        take_words(rest);
        if (!is_text_zero(take_value(rest), name)) continue;
        const std::size_t behind = at + 1 + name.size();
        const std::string words =
            widened(name, type) + file.substr(behind, type_at + 1 - behind) + type;
        file.replace(at + 1, words.size(), words);
        any = true;
    }
    return any;
}

bool states(const aiNode& node, std::string_view name) {
    return node.mMetaData != nullptr &&
           node.mMetaData->HasKey(widened(name, type_of(name)).c_str());
}

}  // namespace

std::optional<std::string> with_visibility(std::string fbx) {
    const auto widen = fbx.starts_with("Kaydara FBX Binary") ? widen_binary : widen_text;
    if (!widen(visibility, fbx)) return std::nullopt;
    widen(inheritance, fbx);
    return fbx;
}

std::vector<bool> hidden_nodes(const Rig& rig) {
    std::vector<bool> hidden;
    for (const RigNode& node : rig.nodes) {
        const bool inherits = node.parent != no_index && !states(*node.node, inheritance);
        hidden.push_back(states(*node.node, visibility) || (inherits && hidden[node.parent]));
    }
    return hidden;
}

}  // namespace rakelight
