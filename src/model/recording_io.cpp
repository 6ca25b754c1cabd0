#include "model/recording_io.hpp"

#include <assimp/MemoryIOWrapper.h>
#include <assimp/IOStream.hpp>

#include <algorithm>
#include <memory>
#include <stdexcept>
#include <string_view>
#include <system_error>

#include "error.hpp"
#include "model/utf16.hpp"

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

using Stream = std::unique_ptr<Assimp::IOStream>;

std::string read_start(Assimp::IOStream& stream, std::size_t most) {
    std::string bytes(std::min(stream.FileSize(), most), '\0');
    bytes.resize(stream.Read(bytes.data(), 1, bytes.size()));
    stream.Seek(0, aiOrigin_SET);
    return bytes;
}

Stream stream_of(const std::string& text) {
    auto* copy = new std::uint8_t[text.size()];
    std::copy(text.begin(), text.end(), copy);
    return std::make_unique<Assimp::MemoryIOStream>(copy, text.size(), true);
}

// Of the importers, some take UTF-16 for what it is, most do not, and who does changes between
// versions. None sees any.
Stream in_utf8(Stream stream) {
    if (!begins_utf16(read_start(*stream, 514))) return stream;
    return stream_of(utf8_from_utf16(read_start(*stream, stream->FileSize())).value());
}

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
    if (const auto text = in_place_.find(fs::absolute(file)); text != in_place_.end())
        return new WatchedStream(stream_of(text->second));
    Stream stream(DefaultIOSystem::Open(file, mode));
    return stream ? new WatchedStream(in_utf8(std::move(stream))) : nullptr;
}

void RecordingIo::Close(Assimp::IOStream* stream) {
    delete stream;
}

std::string RecordingIo::start_of(const fs::path& file, std::size_t most) {
    const Stream stream(Open(file.c_str()));
    return stream ? read_start(*stream, most) : std::string();
}

void RecordingIo::put_in_place(const fs::path& file, std::string text) {
    in_place_[fs::absolute(file)] = std::move(text);
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
