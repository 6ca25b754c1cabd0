// DXF on its way to the importer: inserted blocks stand where they are inserted, once and for all.

#include "error.hpp"
#include "fuzz_input.hpp"
#include "model/readers/check_whole.hpp"
#include "model/readers/dxf_text.hpp"

using namespace rakelight;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string text(fuzz::text_of(data, size));
    fuzz::refused_or([&] { check_whole_dxf(text); });
    fuzz::refused_or([&] {
        if (const auto prepared = prepared_dxf(text))
            fuzz::require(!prepared_dxf(*prepared), "nothing is left to prepare");
    });
    return 0;
}
