#pragma once
// File access for the importer that remembers what was read. Private to model/.

#include <assimp/DefaultIOSystem.h>

#include <cstdint>
#include <filesystem>
#include <map>
#include <string>
#include <vector>

#include "model/flat_mesh.hpp"
#include "model/hash.hpp"

namespace rakelight {

/// Opens regular files, for reading only, and remembers each one, together with those that were
/// looked for in vain: the model changes when one of them appears.
class RecordingIo : public Assimp::DefaultIOSystem {
public:
    /// @param model_stamp  from when the model was hashed
    RecordingIo(const std::filesystem::path& model, const FileStamp& model_stamp);

    bool Exists(const char* file) const override;
    /// Text in UTF-16 comes as UTF-8. The stream throws once it was read many times past its end:
    /// on a file that is cut short some importers would do so for ever.
    Assimp::IOStream* Open(const char* file, const char* mode = "rb") override;
    void Close(Assimp::IOStream* stream) override;

    /// The first bytes of a file, as Open gives them; empty when there is none.
    std::string start_of(const std::filesystem::path& file, std::size_t most);

    /// From now on Open gives this text in place of the file's own.
    void put_in_place(const std::filesystem::path& file, std::string text);

    /// The files beside the model, hashed, sorted by path. Throws Error(bad_model) when the model
    /// or one of them changed since it was opened.
    std::vector<SideFile> side_files() const;

    /// Bytes of the model and all side files.
    std::uint64_t bytes() const;

private:
    bool record(const char* file) const;

    std::filesystem::path model_;
    mutable std::map<std::filesystem::path, FileStamp> seen_;  // Exists is const for Assimp
    std::map<std::filesystem::path, std::string> in_place_;
};

/// The hash of a model with its side files: that of the model where there is none.
std::string combined_hash(const std::string& model_hash, const std::vector<SideFile>& side_files);

}  // namespace rakelight
