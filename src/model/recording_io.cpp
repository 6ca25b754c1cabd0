#include "model/recording_io.hpp"

#include <assimp/IOStream.hpp>
#include <memory>
#include <stdexcept>
#include <string_view>
#include <system_error>

#include "error.hpp"

namespace rakelight {
namespace fs = std::filesystem;

namespace {

class WatchedStream : public Assimp::IOStream {
public:
    explicit WatchedStream(std::unique_ptr<Assimp::IOStream> stream) : stream_(std::move(stream)) {}

    size_t Read(void* buffer, size_t size, size_t count) override {
        const size_t done = stream_->Read(buffer, size, count);
        empty_reads_ = done == 0 ? empty_reads_ + 1 : 0;
        if (empty_reads_ > most_empty_reads) throw std::runtime_error("the file ends too soon");
        return done;
    }
    size_t Write(const void*, size_t, size_t) override { return 0; }
    aiReturn Seek(size_t offset, aiOrigin origin) override { return stream_->Seek(offset, origin); }
    size_t Tell() const override { return stream_->Tell(); }
    size_t FileSize() const override { return stream_->FileSize(); }
    void Flush() override {}

private:
    static constexpr int most_empty_reads = 1000;
    std::unique_ptr<Assimp::IOStream> stream_;
    int empty_reads_ = 0;
};

}  // namespace

RecordingIo::RecordingIo(const fs::path& model, const FileStamp& model_stamp)
    : model_(fs::absolute(model)) {
    seen_.emplace(model_, model_stamp);
}

// Whether it is there.
bool RecordingIo::record(const char* file) const {
    const fs::path path = fs::absolute(file);
    const FileStamp stamp = stamp_of(path);
    seen_.emplace(path, stamp);
    return stamp != FileStamp{};
}

bool RecordingIo::Exists(const char* file) const {
    return file != nullptr && record(file);
}

Assimp::IOStream* RecordingIo::Open(const char* file, const char* mode) {
    const bool reads = std::string_view(mode).find_first_of("wa+") == std::string_view::npos;
    if (!reads || !record(file)) return nullptr;
    std::unique_ptr<Assimp::IOStream> stream(DefaultIOSystem::Open(file, mode));
    return stream ? new WatchedStream(std::move(stream)) : nullptr;
}

void RecordingIo::Close(Assimp::IOStream* stream) {
    delete stream;
}

std::uint64_t RecordingIo::bytes() const {
    std::uint64_t sum = 0;
    for (const auto& [path, stamp] : seen_) sum += stamp.bytes;
    return sum;
}

std::vector<SideFile> RecordingIo::side_files() const {
    std::vector<SideFile> files;
    for (const auto& [path, stamp] : seen_) {
        const fs::path relative = path.lexically_relative(model_.parent_path());
        SideFile side{(relative.empty() ? path : relative).string(), std::nullopt};
        if (path != model_ && stamp != FileStamp{}) side.hash = hash_file(path).hex;
        if (stamp_of(path) != stamp)
            throw Error(ExitCode::bad_model, "\"" + side.path +
                                                 "\" changed while it was read; expected a file "
                                                 "that stays as it is; try again");
        if (path != model_) files.push_back(std::move(side));
    }
    return files;
}

std::string combined_hash(const std::string& model_hash, const std::vector<SideFile>& side_files) {
    std::string text = model_hash + "\n";
    bool any = false;
    for (const SideFile& file : side_files) {
        if (!file.hash) continue;
        any = true;
        text += *file.hash + " " + file.path + "\n";
    }
    return any ? hash_text(text) : model_hash;
}

}  // namespace rakelight
