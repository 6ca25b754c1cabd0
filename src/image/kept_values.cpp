#include "image/kept_values.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstdlib>
#include <string>
#include <system_error>

#include "error.hpp"

namespace rakelight {
namespace {

[[noreturn]] void fail(const std::filesystem::path& folder, const char* what) {
    throw Error(ExitCode::not_written,
                folder.string() + ": cannot write the picture's values while it is rendered: " +
                    what + ": " + std::generic_category().message(errno));
}

int open_nameless(const std::filesystem::path& folder) {
#ifdef O_TMPFILE
    const int nameless = ::open(folder.c_str(), O_TMPFILE | O_RDWR | O_CLOEXEC, 0600);
    if (nameless >= 0) return nameless;
#endif
    // Some file systems have none without a name.
    std::string name = (folder / ".rakelight-values-XXXXXX").string();
    const int file = ::mkstemp(name.data());
    if (file < 0) fail(folder, "no file could be made");
    ::unlink(name.c_str());
    ::fcntl(file, F_SETFD, FD_CLOEXEC);
    return file;
}

}  // namespace

KeptValues::KeptValues(std::filesystem::path folder, std::size_t in_memory)
    : folder_(std::move(folder)), in_memory_(in_memory) {}

KeptValues::~KeptValues() {
    if (file_ >= 0) ::close(file_);
}

void KeptValues::append(std::span<const float> values) {
    if (file_ < 0 && values_.size() + values.size() <= in_memory_) {
        values_.insert(values_.end(), values.begin(), values.end());
        return;
    }
    if (file_ < 0) {
        file_ = open_nameless(folder_);
        write_out(values_);
        values_ = {};
    }
    write_out(values);
}

void KeptValues::write_out(std::span<const float> values) {
    auto bytes = std::as_bytes(values);
    while (!bytes.empty()) {
        const ssize_t count = ::write(file_, bytes.data(), bytes.size());
        if (count < 0 && errno == EINTR) continue;
        if (count < 0) fail(folder_, "it could not be written");
        bytes = bytes.subspan(static_cast<std::size_t>(count));
    }
    written_ += values.size();
}

void KeptValues::read(std::size_t at_a_time,
                      const std::function<void(std::span<const float>)>& take) {
    if (file_ < 0) {
        for (std::span<const float> left = values_; !left.empty();) {
            const auto now = left.first(std::min(at_a_time, left.size()));
            take(now);
            left = left.subspan(now.size());
        }
        return;
    }
    std::vector<float> piece;
    for (std::size_t at = 0; at < written_; at += piece.size()) {
        piece.resize(std::min(at_a_time, written_ - at));
        auto bytes = std::as_writable_bytes(std::span(piece));
        auto offset = static_cast<off_t>(at * sizeof(float));
        while (!bytes.empty()) {
            const ssize_t count = ::pread(file_, bytes.data(), bytes.size(), offset);
            if (count < 0 && errno == EINTR) continue;
            if (count <= 0) fail(folder_, "it could not be read back");
            bytes = bytes.subspan(static_cast<std::size_t>(count));
            offset += count;
        }
        take(piece);
    }
}

}  // namespace rakelight
