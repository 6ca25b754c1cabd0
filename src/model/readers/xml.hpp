#pragma once
// XML documents, parsed whole. Private to model/.

#include <pugixml.hpp>
#include <string>
#include <string_view>

namespace rakelight {

/// Parses a document. Throws Error(bad_model), without the file's name, when it is not well-formed.
/// @param what  what the document is, for the message
pugi::xml_document parse_xml(std::string_view text, const std::string& what);

/// A document as UTF-8, on one line but for the text in it.
std::string text_of(const pugi::xml_document& document);

/// An element's or an attribute's name without its namespace prefix.
std::string_view local_name(std::string_view name);

/// The attribute of this name, with any prefix or none; empty when there is none.
std::string_view attribute_of(const pugi::xml_node& element, std::string_view name);

/// A number as XML Schema's double has it, read without regard to the locale, from `text` up to the
/// next blank or the end, which are passed over. Throws Error(bad_model).
/// @param what  what it is, for the message
double take_number(std::string_view& text, const std::string& what);

}  // namespace rakelight
