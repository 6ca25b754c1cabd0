#include "image/same_bytes.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>

namespace rakelight {
namespace {

class ReadFile {
public:
    explicit ReadFile(const std::filesystem::path& path)
        // What is no regular file may block when it is opened, or follow a link.
        : file_(::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK)) {}
    ~ReadFile() {
        if (file_ >= 0) ::close(file_);
    }
    ReadFile(const ReadFile&) = delete;
    ReadFile& operator=(const ReadFile&) = delete;

    /// Bytes of a regular file; -1 for anything else.
    off_t size() const {
        struct stat status {};
        if (file_ < 0 || ::fstat(file_, &status) != 0 || !S_ISREG(status.st_mode)) return -1;
        return status.st_size;
    }
    /// As many bytes as are left, at most `most`; less than that only at the end or on an error.
    std::size_t read(char* bytes, std::size_t most) {
        std::size_t done = 0;
        while (done < most) {
            const ssize_t step = ::read(file_, bytes + done, most - done);
            if (step < 0 && errno == EINTR) continue;
            if (step <= 0) break;
            done += static_cast<std::size_t>(step);
        }
        return done;
    }

private:
    int file_;
};

}  // namespace

bool same_bytes(const std::filesystem::path& a, const std::filesystem::path& b) noexcept {
    ReadFile one(a);
    ReadFile other(b);
    off_t left = one.size();
    if (left < 0 || other.size() != left) return false;
    std::array<char, 1 << 16> bytes;
    std::array<char, 1 << 16> others;
    while (left > 0) {
        const std::size_t count = one.read(bytes.data(), bytes.size());
        if (count == 0 || other.read(others.data(), count) != count ||
            std::memcmp(bytes.data(), others.data(), count) != 0)
            return false;
        left -= static_cast<off_t>(count);
    }
    return true;
}

}  // namespace rakelight
