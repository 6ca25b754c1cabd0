#include "model/cache.hpp"

#include <assimp/version.h>
#include <fcntl.h>
#include <sys/stat.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <system_error>
#include <vector>

#include "model/hash.hpp"
#include "version.hpp"

namespace rakelight {
namespace fs = std::filesystem;
namespace {

// XDG base directory specification: a relative path there is invalid and to be ignored.
std::optional<fs::path> absolute_folder(const char* variable) {
    const char* value = std::getenv(variable);
    if (value == nullptr || value[0] != '/') return std::nullopt;
    return fs::path(value);
}

void make_private_folders(const fs::path& folder) {
    if (fs::is_directory(folder)) return;
    if (folder.has_parent_path() && folder.parent_path() != folder)
        make_private_folders(folder.parent_path());
    if (::mkdir(folder.c_str(), 0700) != 0 && errno != EEXIST)
        throw std::system_error(errno, std::generic_category());
    if (!fs::is_directory(folder))
        throw std::system_error(std::make_error_code(std::errc::not_a_directory));
}

bool is_unchanged(const SideFile& side, const fs::path& model_folder) {
    const fs::path path = model_folder / side.path;  // an absolute side.path replaces the folder
    std::error_code ignored;
    if (!side.hash) return !fs::is_regular_file(path, ignored);
    try {
        return hash_file(path).hex == *side.hash;
    } catch (const std::system_error&) {
        return false;
    }
}

struct Entry {
    fs::path path;
    std::uint64_t bytes;
    std::int64_t used_ns;
};

std::vector<Entry> list(const fs::path& folder, const auto& is_wanted) {
    std::vector<Entry> entries;
    std::error_code error;
    for (fs::directory_iterator i(folder, error), end; !error && i != end; i.increment(error)) {
        struct stat status {};
        if (!is_wanted(i->path()) || ::lstat(i->path().c_str(), &status) != 0 ||
            !S_ISREG(status.st_mode))
            continue;
        entries.push_back(
            {i->path(), static_cast<std::uint64_t>(status.st_size),
             status.st_mtim.tv_sec * std::int64_t{1'000'000'000} + status.st_mtim.tv_nsec});
    }
    return entries;
}

// Another process may have been quicker; a file that is gone is gone.
void remove_quietly(const fs::path& path) {
    std::error_code ignored;
    fs::remove(path, ignored);
}

void remove_stale(const fs::path& folder) {
    const auto is_unfinished = [](const fs::path& path) {
        return path.filename().string().starts_with(TemporaryFile::prefix);
    };
    constexpr std::int64_t day_ns = std::int64_t{86'400} * 1'000'000'000;
    const std::int64_t now_ns = std::int64_t{std::time(nullptr)} * 1'000'000'000;
    for (const Entry& file : list(folder, is_unfinished))
        if (now_ns - file.used_ns > day_ns) remove_quietly(file.path);
}

}  // namespace

fs::path default_cache_folder() {
    if (const auto cache = absolute_folder("XDG_CACHE_HOME")) return *cache / "rakelight";
    if (const auto home = absolute_folder("HOME")) return *home / ".cache" / "rakelight";
    throw std::system_error(std::make_error_code(std::errc::no_such_file_or_directory),
                            "neither XDG_CACHE_HOME nor HOME names a folder");
}

std::string cache_key(const std::string& content_hash, const fs::path& model,
                      const LoadOptions& options) {
    const std::string importer =
        std::to_string(aiGetVersionMajor()) + "." + std::to_string(aiGetVersionMinor()) + "." +
        std::to_string(aiGetVersionPatch()) + "-" + std::to_string(aiGetVersionRevision());
    return hash_text("mesh file " + std::to_string(mesh_file_version) + "\nrakelight " + version +
                     "\nassimp " + importer + "\n" + reading_text(options.reading) + "\ncontent " +
                     content_hash + "\nname " + model.filename().string());
}

Cache::Cache(const CacheSettings& settings)
    : folder_(settings.folder ? fs::absolute(*settings.folder) : default_cache_folder()),
      limit_bytes_(settings.limit_mib << 20) {
    make_private_folders(folder_);
}

std::shared_ptr<Mesh::Mapping> Cache::find(const std::string& key,
                                           const fs::path& model_folder) const {
    const FileHandle file(
        ::open(entry(key).c_str(), O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK));
    if (!file) return nullptr;
    std::shared_ptr<Mesh::Mapping> mapping = map_mesh_file(file.get());
    if (!mapping) return nullptr;
    for (const SideFile& side : mapping->side_files)
        if (!is_unchanged(side, model_folder)) return nullptr;
    ::futimens(file.get(), nullptr);  // used now; in a folder that is read-only this does nothing
    mapping->from_cache = true;
    return mapping;
}

void Cache::keep(TemporaryFile& file, const std::string& key) const {
    file.keep_as(entry(key));
    tidy();
}

void Cache::tidy() const {
    remove_stale(folder_);
    const auto is_entry = [](const fs::path& path) { return path.extension() == ".mesh"; };
    std::vector<Entry> entries = list(folder_, is_entry);
    std::sort(entries.begin(), entries.end(), [](const Entry& a, const Entry& b) {
        return a.used_ns != b.used_ns ? a.used_ns < b.used_ns : a.path < b.path;
    });
    std::uint64_t total = 0;
    for (const Entry& e : entries) total += e.bytes;
    for (const Entry& e : entries) {
        if (total <= limit_bytes_) break;
        remove_quietly(e.path);
        total -= e.bytes;
    }
}

}  // namespace rakelight
