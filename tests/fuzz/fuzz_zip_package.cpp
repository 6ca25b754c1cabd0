// A zip archive as it comes, but for its entries' checksums, which are made right: opened or
// refused; each entry read or refused; and, as a 3MF, a model or a refusal.

#include "error.hpp"
#include "fuzz_input.hpp"
#include "fuzz_zip.hpp"
#include "model/readers/plain_readers.hpp"
#include "model/readers/zip_package.hpp"

using namespace rakelight;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    std::string bytes(fuzz::text_of(data, size));
    fuzz::mend_checksums(bytes);
    fuzz::refused_or([&] {
        const ZipPackage package(bytes);
        std::size_t left = 16;
        for (const std::string& name : package.names()) {
            if (left-- == 0) break;
            fuzz::refused_or([&] { package.read(name); });
        }
    });
    fuzz::refused_or([&] { read_packed(bytes, ".amf"); });
    const fuzz::MemoryFile file(bytes);
    const MappedFile mapped(file.path());
    fuzz::refused_or([&] { read_3mf(mapped, {}); });
    return 0;
}
