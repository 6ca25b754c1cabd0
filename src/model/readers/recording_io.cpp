#include "model/readers/recording_io.hpp"

#include <assimp/MemoryIOWrapper.h>
#include <assimp/IOStream.hpp>

#include <algorithm>
#include <cctype>
#include <memory>
#include <stdexcept>
#include <string_view>
#include <system_error>

#include "error.hpp"
#include "model/readers/utf16.hpp"
#include "printable.hpp"

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

/// Nothing for a file that is there but may not be read: to the importer it was not there.
std::optional<std::string> hash_of(const fs::path& file) {
    try {
        return hash_file(file).hex;
    } catch (const std::system_error&) {
        return std::nullopt;
    }
}

bool is_within(const fs::path& path, const fs::path& folder) {
    const auto [end, rest] = std::mismatch(folder.begin(), folder.end(), path.begin(), path.end());
    return end == folder.end();
}

// Animations that importers look for by the model's name, without having been referred to them.
bool is_guess(const fs::path& path) {
    const std::string name = path.filename().string();
    return name.ends_with(".md5anim") || name.ends_with(".md5camera") ||
           name.ends_with("_animation.txt");
}

// Of an address in a network the folder and the scheme's second slash are all that was added or
// lost on its way here: "http:/club.example/a.bin".
bool is_address(const std::string& text) {
    const std::size_t colon = text.find(":/");
    return colon != std::string::npos && colon > 1 &&
           std::all_of(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(colon),
                       [](unsigned char c) { return std::isalnum(c) != 0 || c == '+'; });
}

}  // namespace

RecordingIo::RecordingIo(const fs::path& model, const FileStamp& model_stamp,
                         const ReadingSettings& reading)
    : model_(fs::absolute(model)), outside_files_(reading.outside_files) {
    std::error_code none;
    real_model_ = fs::weakly_canonical(model_, none);
    real_folder_ = fs::weakly_canonical(model_.parent_path(), none);
    seen_.emplace(model_, model_stamp);
}

// What is not absolute lies beside the model, wherever this process was started.
fs::path RecordingIo::place_of(const fs::path& file) const {
    return model_.parent_path() / file;
}

// The kernel sees to it too where it can (sandbox.hpp); what is found out here can be said.
bool RecordingIo::in_reach(const fs::path& file) const {
    if (outside_files_) return true;
    std::error_code fault;
    const fs::path real = fs::weakly_canonical(place_of(file), fault);
    if (fault) return false;
    return real == real_model_ || is_within(real, real_folder_);
}

void RecordingIo::note_missing(const fs::path& file) {
    missing_.insert(place_of(file).lexically_normal());
}

// Whether it is there.
bool RecordingIo::record(const char* file) const {
    const fs::path path = place_of(file);
    if (!in_reach(path)) {
        refused_.insert(path.lexically_normal());
        return false;
    }
    const FileStamp stamp = stamp_of(path);
    seen_.emplace(path, stamp);
    return stamp != FileStamp{};
}

bool RecordingIo::Exists(const char* file) const {
    return file != nullptr && record(file);
}

Assimp::IOStream* RecordingIo::Open(const char* file, const char* mode) {
    const bool reads = std::string_view(mode).find_first_of("wa+") == std::string_view::npos;
    if (!reads) return nullptr;
    const fs::path path = place_of(file);
    const bool is_stand_in = path != model_ && in_place_.contains(path);
    if (!is_stand_in && !record(file)) {
        if (!is_guess(path)) note_missing(path);
        return nullptr;
    }
    // An empty line, not nothing: in search of what is not there the importer's layers, one for
    // each time that it was included, would each try several places.
    if (path == model_ && ++model_opened_ > most_openings) in_place_[model_] = "\n";
    if (const auto text = in_place_.find(path); text != in_place_.end())
        return new WatchedStream(stream_of(text->second));
    Stream stream(DefaultIOSystem::Open(path.c_str(), mode));
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
    in_place_[place_of(file)] = std::move(text);
}

const std::string* RecordingIo::text_in_place(const fs::path& file) const {
    const auto text = in_place_.find(place_of(file));
    return text == in_place_.end() ? nullptr : &text->second;
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
        if (path != model_ && stamp != FileStamp{}) side.hash = hash_of(path);
        if (stamp_of(path) != stamp)
            throw Error(ExitCode::bad_model, "\"" + side.path +
                                                 "\" changed while it was read; expected a file "
                                                 "that stays as it is; try again");
        if (path != model_) files.push_back(std::move(side));
    }
    // A link that leads out is not there either, but may be replaced by a file.
    for (const fs::path& path : refused_) {
        if (!is_within(path, model_.parent_path())) continue;
        files.push_back({path.lexically_relative(model_.parent_path()).string(), std::nullopt});
    }
    return files;
}

std::vector<std::string> RecordingIo::warnings() const {
    std::vector<std::string> list;
    const fs::path folder = model_.parent_path().lexically_normal();
    for (const fs::path& path : missing_) {
        const fs::path relative = path.lexically_relative(folder);
        const std::string name = printable((relative.empty() ? path : relative).string());
        const std::string what = "it refers to \"" + name + "\", ";
        if (is_address(name))
            list.push_back(what +
                           "an address; nothing is fetched from a network: put the file beside the "
                           "model and refer to it there");
        else if (refused_.count(path) != 0)
            list.push_back(what + "which lies outside of its folder (" + printable(path.string()) +
                           ") and was not read; put it beside the model and refer to it there, or "
                           "allow it: outside_files = true in [model], --outside-files of inspect");
        else
            list.push_back(what + "which is not there (looked for " + printable(path.string()) +
                           ")");
    }
    constexpr std::size_t most = 8;
    if (list.size() <= most) return list;
    const std::size_t more = list.size() - most;
    list.resize(most);
    list.push_back("and it refers to " + std::to_string(more) + " more that were not read");
    return list;
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
