#include "model/readers/xml.hpp"

#include <algorithm>
#include <charconv>
#include <limits>
#include <new>

#include "error.hpp"

namespace rakelight {
namespace {

bool is_space(char c) {
    return c == ' ' || c == '\t' || c == '\r' || c == '\n';
}

void skip_spaces(std::string_view& text) {
    while (!text.empty() && is_space(text.front())) text.remove_prefix(1);
}

}  // namespace

pugi::xml_document parse_xml(std::string_view text, const std::string& what) {
    pugi::xml_document document;
    const auto result = document.load_buffer(text.data(), text.size());
    if (result.status == pugi::status_out_of_memory) throw std::bad_alloc();
    if (result) return document;
    const auto before = text.substr(
        0,
        static_cast<std::size_t>(std::max<std::ptrdiff_t>(
            0, std::min<std::ptrdiff_t>(result.offset, static_cast<std::ptrdiff_t>(text.size())))));
    const auto line = 1 + std::count(before.begin(), before.end(), '\n');
    throw Error(ExitCode::bad_model, what + " is no sound XML (line " + std::to_string(line) +
                                         ": " + result.description() +
                                         "); expected a whole document; download or export the "
                                         "file again");
}

std::string text_of(const pugi::xml_document& document) {
    struct Writer : pugi::xml_writer {
        std::string text;
        void write(const void* data, std::size_t size) override {
            text.append(static_cast<const char*>(data), size);
        }
    } writer;
    document.save(writer, "", pugi::format_raw, pugi::encoding_utf8);
    return std::move(writer.text);
}

std::string_view local_name(std::string_view name) {
    const std::size_t colon = name.rfind(':');
    return colon == std::string_view::npos ? name : name.substr(colon + 1);
}

std::string_view attribute_of(const pugi::xml_node& element, std::string_view name) {
    for (const pugi::xml_attribute& attribute : element.attributes())
        if (local_name(attribute.name()) == name) return attribute.value();
    return {};
}

double take_number(std::string_view& text, const std::string& what) {
    skip_spaces(text);
    if (text.starts_with('+')) text.remove_prefix(1);
    double number = 0.0;
    const char* const end = text.data() + text.size();
    const auto read = std::from_chars(text.data(), end, number);
    if (read.ec == std::errc::invalid_argument || (read.ptr != end && !is_space(*read.ptr)))
        throw Error(ExitCode::bad_model, what + " is \"" + std::string(text.substr(0, 40)) +
                                             "\"; expected a number; export the model again");
    const auto digits = text.substr(0, static_cast<std::size_t>(read.ptr - text.data()));
    if (read.ec == std::errc::result_out_of_range)  // too small a number is 0, too large none
        number = digits.find_first_of("eE") != std::string_view::npos &&
                         digits[digits.find_first_of("eE") + 1] == '-'
                     ? 0.0
                     : std::numeric_limits<double>::infinity();
    text.remove_prefix(digits.size());
    skip_spaces(text);
    return number;
}

}  // namespace rakelight
