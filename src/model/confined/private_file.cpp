#include "model/confined/private_file.hpp"

#include <sys/mman.h>

#include <filesystem>
#include <system_error>

#include "error.hpp"

namespace rakelight {

FileHandle open_private_file() {
    try {
        TemporaryFile file(std::filesystem::temp_directory_path());
        return file.release();
    } catch (const std::system_error& e) {
#ifdef __linux__
        if (FileHandle memory(::memfd_create("rakelight", MFD_CLOEXEC)); memory) return memory;
#endif
        throw Error(ExitCode::not_written, "no temporary file can be made (" + e.code().message() +
                                               "); set TMPDIR to a folder that can be written to");
    }
}

}  // namespace rakelight
