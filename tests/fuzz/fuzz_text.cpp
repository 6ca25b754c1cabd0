// Text that is changed before the importer gets it, and what of it is read beside the importer. The
// first byte says which; what comes back is sound text, and facts that can be printed.

#include <nlohmann/json.hpp>

#include <array>
#include <cmath>
#include <pugixml.hpp>

#include "error.hpp"
#include "fuzz_input.hpp"
#include "model/readers/conventions.hpp"
#include "model/readers/mend_text.hpp"
#include "model/readers/stated.hpp"
#include "model/readers/utf16.hpp"
#include "model/readers/x3d_uses.hpp"

using namespace rakelight;

namespace {

void check_utf16(std::string_view bytes) {
    const auto text = utf8_from_utf16(bytes);
    fuzz::require(text.has_value() == begins_utf16(bytes), "read as it begins");
    // Throws for what is no UTF-8.
    if (text) nlohmann::json(*text).dump();
}

bool has_uses(const pugi::xml_node& node) {
    for (const pugi::xml_node& child : node.children())
        if (child.attribute("USE") || has_uses(child)) return true;
    return false;
}

void check_x3d(std::string_view bytes) {
    try {
        const auto text = without_uses(bytes);
        if (!text) return;
        pugi::xml_document document;
        if (document.load_buffer(text->data(), text->size()))
            fuzz::require(!has_uses(document), "no USE is left");
    } catch (const Error& error) {
        fuzz::require_refusal(error);
    }
}

void check_mended(std::string_view extension, std::string_view bytes) {
    const std::string text(bytes);
    if (const auto mended = mended_text(extension, text))
        fuzz::require(mended->size() < text.size(), "something is left out");
}

bool is_axis(const std::string& axis) {
    return axis.size() == 2 && (axis[0] == '+' || axis[0] == '-') && axis[1] >= 'x' &&
           axis[1] <= 'z';
}

void check_words(const std::string& words) {
    fuzz::require(words.size() < 200, "short words");
    for (const char c : words)
        fuzz::require(c >= ' ' && c <= '~', "words that a terminal can show");
}

void check_stated(const char* importer, std::string_view text) {
    Soup soup;
    apply_conventions(importer, soup);
    ModelFacts& facts = soup.facts;
    apply_stated(facts.format, text, facts);
    fuzz::require(is_axis(facts.up), "an axis is up");
    fuzz::require(facts.front.empty() || is_axis(facts.front), "an axis is the front");
    fuzz::require(facts.front.empty() || facts.front[1] != facts.up[1], "the front is not above");
    fuzz::require(std::isfinite(facts.mm_per_unit) && facts.mm_per_unit >= 0.0, "a unit");
    check_words(facts.up_reason);
    check_words(facts.unit_reason);
    check_words(facts.front_reason);
}

constexpr std::array importers{"Additive manufacturing", "Collada ",         "Extensible 3D",
                               "Drawing Interchange",    "Open Game Engine", "Neutral File"};

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    if (size == 0) return 0;
    const std::string_view text = fuzz::text_of(data, size).substr(1);
    switch (data[0]) {
        case 'u':
            check_utf16(text);
            break;
        case 'x':
            check_x3d(text);
            break;
        case 'd':
            check_mended(".dae", text);
            break;
        case 'o':
            check_mended(".ogex", text);
            break;
        default:
            check_stated(importers[data[0] % importers.size()], text);
    }
    return 0;
}
