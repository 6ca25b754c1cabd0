#include "model/hash.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <memory>
#include <system_error>
#include <vector>

#include "model/confined/file_handle.hpp"
#include "model/xxh3.hpp"

namespace rakelight {
namespace {

std::string hex_of(XXH128_hash_t hash) {
    XXH128_canonical_t canonical;
    XXH128_canonicalFromHash(&canonical, hash);
    std::string hex;
    for (const unsigned char byte : canonical.digest) {
        hex += "0123456789abcdef"[byte >> 4];
        hex += "0123456789abcdef"[byte & 15];
    }
    return hex;
}

FileStamp stamp_from(const struct stat& status) {
    return {static_cast<std::uint64_t>(status.st_size),
            status.st_mtim.tv_sec * std::int64_t{1'000'000'000} + status.st_mtim.tv_nsec};
}

struct StateDeleter {
    void operator()(XXH3_state_t* state) const { XXH3_freeState(state); }
};

}  // namespace

std::string hash_text(std::string_view text) {
    return hex_of(XXH3_128bits(text.data(), text.size()));
}

FileStamp stamp_of(const std::filesystem::path& file) {
    struct stat status {};
    if (::stat(file.c_str(), &status) != 0 || !S_ISREG(status.st_mode)) return {};
    return stamp_from(status);
}

FileHash hash_file(const std::filesystem::path& file) {
    const FileHandle handle = open_regular(file);
    // Read and not mapped: a mapped file that somebody cuts short meanwhile ends the process.
    std::vector<char> buffer(1 << 18);
    const std::unique_ptr<XXH3_state_t, StateDeleter> state(XXH3_createState());
    if (!state) throw std::bad_alloc();
    XXH3_128bits_reset(state.get());
    struct stat status {};
    if (::fstat(handle.get(), &status) != 0)
        throw std::system_error(errno, std::generic_category());
    FileHash result{{}, stamp_from(status)};
    for (;;) {
        const ssize_t count = ::read(handle.get(), buffer.data(), buffer.size());
        if (count < 0 && errno == EINTR) continue;
        if (count < 0) throw std::system_error(errno, std::generic_category());
        if (count == 0) break;
        XXH3_128bits_update(state.get(), buffer.data(), static_cast<std::size_t>(count));
    }
    result.hex = hex_of(XXH3_128bits_digest(state.get()));
    return result;
}

}  // namespace rakelight
