// COLLADA on its way to the importer: what is changed is a sound document without that which it
// stumbles over, and nothing more is left to change.

#include <pugixml.hpp>

#include "error.hpp"
#include "fuzz_input.hpp"
#include "model/readers/collada_text.hpp"

using namespace rakelight;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    try {
        const auto prepared = prepared_collada(fuzz::text_of(data, size));
        if (!prepared) return 0;
        pugi::xml_document document;
        fuzz::require(document.load_buffer(prepared->data(), prepared->size()), "a document");
        fuzz::require(!document.select_node("//skew"), "no skew is left");
        fuzz::require(!prepared_collada(*prepared), "nothing is left to prepare");
    } catch (const Error& error) {
        fuzz::require_refusal(error);
    }
    return 0;
}
