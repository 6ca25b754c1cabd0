#pragma once
// How much memory a model's import will take, reckoned before it is begun.

#include <cstdint>
#include <filesystem>
#include <string>

#include "model/load.hpp"

namespace rakelight {

struct ImportNeed {
    std::uint64_t bytes = 0;      ///< at the most, of the child process that reads the file
    std::uint64_t triangles = 0;  ///< as the file's head states or implies; 0: it does not
    std::string basis;            ///< what it was reckoned from, in words
};

/// From the counts in the head of a PLY or a binary STL, or in a glTF file's JSON, and else from
/// the file's size and format; docs/models.md says what it holds for. Reads the head; of an STL a
/// few thousand triangles; of glTF the JSON and the first bytes of pictures, in a child process. Of
/// a file that cannot be read or has no sound head: from its size. Call it before a graphics
/// context exists, as load_model: it forks.
ImportNeed import_need(const std::filesystem::path& file, std::uint64_t file_bytes,
                       const LoadOptions& options);

}  // namespace rakelight
