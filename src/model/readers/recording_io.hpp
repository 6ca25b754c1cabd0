#pragma once
// File access for the importer that remembers what was read. Private to model/.

#include <assimp/DefaultIOSystem.h>

#include <cstdint>
#include <filesystem>
#include <map>
#include <set>
#include <string>
#include <vector>

#include "model/flat_mesh.hpp"
#include "model/hash.hpp"
#include "scene/scene.hpp"

namespace rakelight {

/// Opens regular files, for reading only, and remembers each one, together with those that were
/// looked for in vain: the model changes when one of them appears. What lies outside of the model's
/// folder, by "..", an absolute path or a link, is not there, unless it was allowed. Names that are
/// not absolute are of files beside the model; give the model's own as an absolute one.
class RecordingIo : public Assimp::DefaultIOSystem {
public:
    /// @param model_stamp  from when the model was hashed
    RecordingIo(const std::filesystem::path& model, const FileStamp& model_stamp,
                const ReadingSettings& reading = {});

    bool Exists(const char* file) const override;
    /// Text in UTF-16 comes as UTF-8. The stream throws once it was read many times past its end:
    /// on a file that is cut short some importers would do so for ever.
    Assimp::IOStream* Open(const char* file, const char* mode = "rb") override;
    void Close(Assimp::IOStream* stream) override;

    /// Whether the model was opened so often that it must include itself; it was empty from then
    /// on.
    bool includes_itself() const { return model_opened_ > most_openings; }

    /// The first bytes of a file, as Open gives them; empty when there is none.
    std::string start_of(const std::filesystem::path& file, std::size_t most);

    /// From now on Open gives this text in place of the file's own; beside the model also of a file
    /// that is not there.
    void put_in_place(const std::filesystem::path& file, std::string text);
    /// That text; null where there is none. Lives until another is put there.
    const std::string* text_in_place(const std::filesystem::path& file) const;

    /// The files beside the model, hashed, sorted by path. Throws Error(bad_model) when the model
    /// or one of them changed since it was opened.
    std::vector<SideFile> side_files() const;

    /// Whether a file may be read, should it be there.
    bool in_reach(const std::filesystem::path& file) const;

    /// Says that the model refers to a file which was looked for in vain.
    void note_missing(const std::filesystem::path& file);

    /// In words, one for each file that was to be opened or noted as missing: that it lies outside
    /// of the folder, or is not there.
    std::vector<std::string> warnings() const;

    /// Bytes of the model and all side files.
    std::uint64_t bytes() const;

private:
    bool record(const char* file) const;
    std::filesystem::path place_of(const std::filesystem::path& file) const;

    std::filesystem::path model_;
    std::filesystem::path real_model_, real_folder_;  // without links
    bool outside_files_;
    mutable std::set<std::filesystem::path> refused_;
    std::set<std::filesystem::path> missing_;
    // Each of the importer's readers may look into it, some fifty, and more than once.
    static constexpr int most_openings = 1000;
    int model_opened_ = 0;
    mutable std::map<std::filesystem::path, FileStamp> seen_;  // Exists is const for Assimp
    std::map<std::filesystem::path, std::string> in_place_;
};

/// The hash of a model with its side files: that of the model where there is none.
std::string combined_hash(const std::string& model_hash, const std::vector<SideFile>& side_files);

}  // namespace rakelight
