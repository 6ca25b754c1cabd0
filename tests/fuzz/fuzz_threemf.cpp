// 3MF, and all that follows up to the flat mesh. The input is what lies in the package, not the
// package: the model document, and behind bytes of zero a second one and the relationships.

#include <new>

#include "error.hpp"
#include "fuzz_input.hpp"
#include "fuzz_zip.hpp"
#include "model/mesh_file.hpp"
#include "model/readers/plain_readers.hpp"

using namespace rakelight;

namespace {

std::string package_of(std::string_view input) {
    std::vector<std::pair<std::string, std::string_view>> entries;
    for (const char* name : {"3D/3dmodel.model", "3D/parts.model", "_rels/.rels"}) {
        if (input.empty()) break;
        const std::size_t end = input.find('\0');
        if (end != 0) entries.emplace_back(name, input.substr(0, end));
        input.remove_prefix(end == std::string_view::npos ? input.size() : end + 1);
    }
    return fuzz::zip_of(entries);
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const fuzz::MemoryFile file(package_of(fuzz::text_of(data, size)));
    const MappedFile mapped(file.path());
    try {
        const fuzz::MemoryFile mesh("");
        write_mesh_file(mesh.descriptor(), build_flat_mesh(read_3mf(mapped, {}), {}));
        fuzz::require(map_mesh_file(mesh.descriptor()) != nullptr, "a sound mesh");
    } catch (const Error& error) {
        fuzz::require_refusal(error);
    }
    return 0;
}
