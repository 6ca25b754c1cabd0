// What a file is by its first bytes, and whether it is all there. The first byte chooses the
// extension that the bytes behind it are said to have.

#include <array>

#include "error.hpp"
#include "fuzz_input.hpp"
#include "model/readers/check_whole.hpp"
#include "model/readers/first_bytes.hpp"

using namespace rakelight;

namespace {

constexpr std::array extensions{".ply", ".stl",  ".obj",  ".gltf", ".glb",   ".fbx", ".3mf",
                                ".dae", ".zae",  ".off",  ".amf",  ".blend", ".x3d", ".dxf",
                                ".ifc", ".step", ".x3dz", ".wrz",  ".bin",   ""};

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    if (size == 0) return 0;
    const std::string_view bytes = fuzz::text_of(data, size).substr(1);
    fuzz::refused_or([&] { check_first_bytes(bytes, extensions[data[0] % extensions.size()]); });
    fuzz::refused_or([&] { check_whole_off(bytes); });
    return 0;
}
