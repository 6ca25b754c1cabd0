#include "model/readers/mend_text.hpp"

#include <algorithm>

namespace rakelight {
namespace {

bool is_space(char c) {
    return c == ' ' || c == '\t' || c == '\r' || c == '\n';
}

std::string trim_colours(const std::string& text) {
    std::string out;
    std::size_t done = 0;
    for (std::size_t at = 0; (at = text.find("<color", at)) != std::string::npos;) {
        const std::size_t end = text.find('>', at);
        if (end == std::string::npos) break;
        out.append(text, done, end + 1 - done);
        done = end + 1;
        while (done < text.size() && is_space(text[done])) ++done;
        at = done;
    }
    return out.append(text, done);
}

/// Where the structure that begins here ends: behind the brace that closes its first one.
std::size_t end_of_structure(const std::string& text, std::size_t at) {
    int open = 0;
    for (; at < text.size(); ++at) {
        open += text[at] == '{';
        open -= text[at] == '}';
        if (text[at] == '}' && open <= 0) return at + 1;
    }
    return std::string::npos;
}

/// Whether a structure of this name begins here, and is of a colour: Color (attrib = "diffuse") {
/// or VertexArray (attrib = "color") {
bool begins_colour(const std::string& text, std::size_t at, std::string_view name) {
    if (at > 0 && !is_space(text[at - 1]) && text[at - 1] != '{') return false;
    // Looked for in a line's length: a text of such words alone would be read once for each.
    constexpr std::size_t longest_head = 256;
    const std::string_view near = std::string_view(text).substr(at + name.size(), longest_head);
    const std::size_t brace = near.find('{');
    if (brace == std::string_view::npos) return false;
    const std::string_view head = near.substr(0, brace);
    const std::size_t next = head.find_first_not_of(" \t\r\n");
    if (next != std::string_view::npos && head[next] != '(') return false;
    return name == "Color" || head.find("\"color") != std::string_view::npos;
}

std::string drop_colours(const std::string& text, std::string_view name) {
    std::string out;
    std::size_t done = 0;
    for (std::size_t at = 0; (at = text.find(name, at)) != std::string::npos;) {
        if (!begins_colour(text, at, name)) {
            at += name.size();
            continue;
        }
        const std::size_t end = end_of_structure(text, at);
        if (end == std::string::npos) break;  // not closed, so that nothing behind it is sound
        out.append(text, done, at - done);
        at = done = end;
    }
    return out.append(text, done);
}

}  // namespace

std::optional<std::string> mended_text(std::string_view extension, const std::string& text) {
    std::string mended = text;
    if (extension == ".dae") mended = trim_colours(text);
    if (extension == ".ogex") mended = drop_colours(drop_colours(text, "Color"), "VertexArray");
    if (mended == text) return std::nullopt;
    return mended;
}

}  // namespace rakelight
