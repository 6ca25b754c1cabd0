// Pictures of all formats, told by their first bytes: read, or refused with a reason; what is read
// has as many values as its size says.

#include "fuzz_input.hpp"
#include "model/image_file.hpp"

using namespace rakelight;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    try {
        const PictureFile picture = read_picture({data, size});
        fuzz::require(picture.channels >= 1 && picture.channels <= 4, "1 to 4 channels");
        const std::uint64_t texels = std::uint64_t{picture.width} * picture.height;
        fuzz::require(texels > 0 && texels <= most_picture_texels, "a size within the limits");
        fuzz::require(picture.values.size() == texels * picture.channels, "all values");
    } catch (const UnreadablePicture& reason) {
        fuzz::require(reason.what()[0] != '\0', "a reason");
    }
    return 0;
}
