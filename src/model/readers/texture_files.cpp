#include "model/readers/texture_files.hpp"

#include <algorithm>
#include <array>
#include <assimp/IOStream.hpp>
#include <cctype>
#include <optional>
#include <string_view>

#include "model/pictures/image_file.hpp"
#include "model/readers/text_scan.hpp"

namespace rakelight {
namespace {

namespace fs = std::filesystem;

std::string with_slashes(std::string text) {
    std::replace(text.begin(), text.end(), '\\', '/');
    if (text.starts_with("file://")) text.erase(0, 7);
    return text;
}

/// "C:/..." is a path of another machine wherever that letter is no drive.
bool has_drive(const std::string& path) {
    return path.size() > 1 && path[1] == ':' &&
           std::isalpha(static_cast<unsigned char>(path[0])) != 0;
}

/// Paths to try, from the model's folder, each once.
class Candidates {
public:
    /// As it is written, its last folder and its name, its name alone.
    void add_named(const std::string& name, const fs::path& beside) {
        for (const std::string& text : {with_slashes(name), without_escapes(with_slashes(name))}) {
            const fs::path path(text);
            if (!has_drive(text)) add(beside / path);
            if (path.has_parent_path())
                add(beside / path.parent_path().filename() / path.filename());
            add(beside / path.filename());
        }
    }

    void add_usual_folders(const std::string& name) {
        const fs::path file = fs::path(without_escapes(with_slashes(name))).filename();
        for (const char* folder : {"textures", "texture", "tex", "maps", "images", "materials"})
            add(fs::path(folder) / file);
        add(fs::path("..") / "textures" / file);
    }

    const std::vector<fs::path>& paths() const { return paths_; }

private:
    void add(const fs::path& path) {
        const fs::path normal = path.lexically_normal();
        if (!normal.empty() && std::find(paths_.begin(), paths_.end(), normal) == paths_.end())
            paths_.push_back(normal);
    }

    std::vector<fs::path> paths_;
};

/// An entry of the folder whose name differs by letter case alone; the first in order where there
/// are several.
std::optional<fs::path> entry_like(const fs::path& folder, const std::string& name) {
    std::error_code fault;
    std::optional<fs::path> best;
    const std::string wanted = lower(name);
    constexpr int most_entries = 20000;
    int seen = 0;
    for (fs::directory_iterator entry(folder, fault), end; !fault && entry != end;
         entry.increment(fault)) {
        if (++seen > most_entries) break;
        const fs::path found = entry->path().filename();
        if (lower(found.string()) == wanted && (!best || found < *best)) best = found;
    }
    return best;
}

/// The path as the folders really spell it, or nothing.
std::optional<fs::path> spelled(const fs::path& folder, const fs::path& path) {
    fs::path at = folder;
    for (const fs::path& step : path) {
        std::error_code fault;
        if (step == ".." || step == "." || step.has_root_directory() ||
            fs::exists(at / step, fault)) {
            at /= step;
            continue;
        }
        const std::optional<fs::path> like = entry_like(at, step.string());
        if (!like) return std::nullopt;
        at /= *like;
    }
    return at;
}

std::vector<unsigned char> read_all(Assimp::IOStream& stream) {
    constexpr std::size_t most_bytes = std::size_t{1} << 30;
    const std::size_t size = stream.FileSize();
    if (size > most_bytes) throw UnreadablePicture("it has more than 1 GiB");
    std::vector<unsigned char> bytes(size);
    if (size > 0) bytes.resize(stream.Read(bytes.data(), 1, size));
    return bytes;
}

// Empty: nothing is there, or nothing is wrong with it.
std::string why_not(const fs::path& path, const RecordingIo& io) {
    std::error_code fault;
    const bool refused = fs::is_regular_file(path, fault) && !io.in_reach(path);
    return refused ? " (outside of the model's folder: allow outside_files)" : "";
}

std::string relative_text(const fs::path& path, const fs::path& folder) {
    const fs::path relative = path.lexically_relative(folder);
    return (relative.empty() ? path : relative).string();
}

/// Where a candidate really lies, if it is there and may be read.
std::optional<fs::path> readable(const fs::path& path, const fs::path& folder, RecordingIo& io) {
    const fs::path as_written = (folder / path).lexically_normal();
    // Recorded also when it is not there: the model changes when it appears.
    const bool exact = io.Exists(as_written.c_str());
    const std::optional<fs::path> real = exact ? as_written : spelled(folder, path);
    return real && io.in_reach(*real) ? real : std::nullopt;
}

}  // namespace

FoundPicture find_picture(const std::string& name, const fs::path& model, RecordingIo& io,
                          const fs::path& beside) {
    const fs::path folder = fs::absolute(model).parent_path();
    Candidates candidates;
    if (!beside.empty()) candidates.add_named(name, beside);
    candidates.add_named(name, {});
    candidates.add_usual_folders(name);
    FoundPicture picture;
    for (const fs::path& path : candidates.paths()) {
        const std::optional<fs::path> real = readable(path, folder, io);
        Assimp::IOStream* stream = real ? io.Open(real->c_str(), "rb") : nullptr;
        if (stream == nullptr) {
            const fs::path as_written = (folder / path).lexically_normal();
            picture.tried.push_back(relative_text(as_written, folder) + why_not(as_written, io));
            continue;
        }
        picture.found = true;
        picture.path = relative_text(*real, folder);
        const auto close = [&](Assimp::IOStream* s) { io.Close(s); };
        const std::unique_ptr<Assimp::IOStream, decltype(close)> closing(stream, close);
        picture.bytes = read_all(*stream);
        return picture;
    }
    return picture;
}

std::optional<fs::path> find_beside(const std::string& name, const fs::path& model,
                                    RecordingIo& io) {
    const fs::path folder = fs::absolute(model).parent_path();
    Candidates candidates;
    candidates.add_named(name, {});
    for (const fs::path& path : candidates.paths()) {
        const std::optional<fs::path> real = readable(path, folder, io);
        std::error_code fault;
        if (real && fs::is_regular_file(*real, fault)) return real;
    }
    return std::nullopt;
}

}  // namespace rakelight
