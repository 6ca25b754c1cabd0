#include "scene/file_text.hpp"

#include <cerrno>
#include <fstream>
#include <system_error>

#include "error.hpp"

namespace rakelight::scene_file {

void throw_bad_file(const std::filesystem::path& path, const std::string& found,
                    std::string_view what, const std::string& hint) {
    throw Error(ExitCode::bad_scene, path.string() + ": found " + found + "; expected " +
                                         std::string(what) + (hint.empty() ? "" : ". " + hint));
}

std::string file_text(const std::filesystem::path& path, std::string_view what) {
    std::error_code ignored;
    if (std::filesystem::is_directory(path, ignored)) throw_bad_file(path, "a folder", what);
    errno = 0;
    std::ifstream file(path, std::ios::binary);
    // Read, not measured: pipes have no size. One byte too many is enough to refuse it.
    std::string text(most_text_bytes + 1, '\0');
    if (file) file.read(text.data(), static_cast<std::streamsize>(text.size()));
    if (!file.is_open() || file.bad()) {
        const std::string why = errno ? std::generic_category().message(errno) : "read error";
        throw_bad_file(path, "a file that cannot be read (" + why + ")", what);
    }
    text.resize(static_cast<std::size_t>(file.gcount()));
    if (text.size() > most_text_bytes) throw_bad_file(path, "more than 1 MiB", what);
    return text;
}

}  // namespace rakelight::scene_file
