// One reader of our own, chosen when this is compiled, and all that follows up to the flat mesh: a
// file is read, refused with a reason or left to the importer; what is read gives a sound mesh.

#include "error.hpp"
#include "fuzz_input.hpp"
#include "model/mesh_file.hpp"
#include "model/readers/plain_readers.hpp"
#include "model/readers/text_scan.hpp"

using namespace rakelight;

namespace {

Soup read([[maybe_unused]] const MappedFile& file, [[maybe_unused]] const ReadingSettings& how) {
#if defined(RAKELIGHT_FUZZ_STL)
    return read_stl(file, how.normals);
#elif defined(RAKELIGHT_FUZZ_PLY)
    return read_ply(file, how.normals);
#elif defined(RAKELIGHT_FUZZ_AMF)
    return read_amf(file, how);
#else
    // A name without a folder of its own: material libraries are looked for and not there.
    RecordingIo io("/nowhere/model.obj", {});
    return read_obj(file, "/nowhere/model.obj", io, how);
#endif
}

void check_mesh(Soup&& soup, const ReadingSettings& how) {
    const fuzz::MemoryFile file("");
    write_mesh_file(file.descriptor(), build_flat_mesh(std::move(soup), how));
    fuzz::require(map_mesh_file(file.descriptor()) != nullptr, "a sound mesh");
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const fuzz::MemoryFile file(fuzz::text_of(data, size));
    const MappedFile mapped(file.path());
    ReadingSettings how;
    how.normals = size % 2 == 0 ? NormalSource::automatic : NormalSource::file;
    try {
        check_mesh(read(mapped, how), how);
    } catch (const Unfamiliar&) {
    } catch (const Error& error) {
        fuzz::require_refusal(error);
    }
    return 0;
}
