#pragma once
// The folder of flat mesh files. Private to model/.

#include <cstdint>
#include <filesystem>
#include <memory>
#include <string>

#include "model/confined/file_handle.hpp"
#include "model/load.hpp"
#include "model/mesh_file.hpp"

namespace rakelight {

/// Where entries lie when the settings name no folder. Throws std::system_error when neither
/// XDG_CACHE_HOME nor HOME says so.
std::filesystem::path default_cache_folder();

/// The name of the entry for this content, this file name and these options under this version of
/// the program, the importer and the file format. (The file's name counts because parts may be
/// called by it and side files be looked for by it.)
std::string cache_key(const std::string& content_hash, const std::filesystem::path& model,
                      const LoadOptions& options);

/// Entries come into being by rename, so that processes that race see a whole entry or none.
class Cache {
public:
    /// Makes the folder (mode 0700, as the XDG base directory specification asks) where it is
    /// missing. Throws std::system_error.
    explicit Cache(const CacheSettings& settings);

    /// The entry, marked as used now; null when there is none, it is damaged, or one of its side
    /// files beside the model changed, vanished or appeared.
    std::shared_ptr<Mesh::Mapping> find(const std::string& key,
                                        const std::filesystem::path& model_folder) const;

    /// Throws std::system_error.
    TemporaryFile create() const { return TemporaryFile(folder_); }

    /// Makes the file the entry, then removes the least recently used entries until all fit the
    /// limit, and what broken-off processes left behind more than a day ago. Throws
    /// std::system_error.
    void keep(TemporaryFile& file, const std::string& key) const;

private:
    std::filesystem::path entry(const std::string& key) const { return folder_ / (key + ".mesh"); }
    void tidy() const;

    std::filesystem::path folder_;
    std::uint64_t limit_bytes_;
};

}  // namespace rakelight
