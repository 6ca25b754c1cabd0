// FBX, binary and text, on its way to the importer: what hides an object is written in other words
// of the same length, since each element of a binary file says where it ends.

#include "fuzz_input.hpp"
#include "model/readers/fbx_visibility.hpp"

using namespace rakelight;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string file(fuzz::text_of(data, size));
    const auto widened = with_visibility(file);
    if (!widened) return 0;
    fuzz::require(widened->size() == file.size(), "as long as before");
    fuzz::require(*widened != file, "other words");
    fuzz::require(!with_visibility(*widened), "nothing is left to write in other words");
    return 0;
}
