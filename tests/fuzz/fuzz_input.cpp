#include "fuzz_input.hpp"

#include <sys/mman.h>
#include <unistd.h>

#include <fstream>
#include <system_error>

namespace fuzz {

void require_refusal(const rakelight::Error& error) {
    require(error.code() == rakelight::ExitCode::bad_model, "exit code 4");
    require(error.what()[0] != '\0', "a message");
}

MemoryFile::MemoryFile(std::string_view bytes) : handle_(::memfd_create("fuzz", MFD_CLOEXEC)) {
    require(bool(handle_), "a file in memory");
    while (!bytes.empty()) {
        const ssize_t count = ::write(handle_.get(), bytes.data(), bytes.size());
        require(count > 0, "writing to memory");
        bytes.remove_prefix(static_cast<std::size_t>(count));
    }
}

std::filesystem::path MemoryFile::path() const {
    return "/proc/self/fd/" + std::to_string(handle_.get());
}

Folder::Folder() {
    std::string name = (std::filesystem::temp_directory_path() / "rakelight-fuzz-XXXXXX").string();
    require(::mkdtemp(name.data()) != nullptr, "a folder");
    path_ = name;
}

Folder::~Folder() {
    std::error_code fault;
    std::filesystem::remove_all(path_, fault);
}

std::filesystem::path Folder::write(const std::string& name, std::string_view bytes) const {
    const std::filesystem::path file = path_ / name;
    std::ofstream stream(file, std::ios::binary);
    stream.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
    stream.close();
    require(bool(stream), "writing a file");
    return file;
}

}  // namespace fuzz
