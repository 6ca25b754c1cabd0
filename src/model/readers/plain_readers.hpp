#pragma once
// Readers of our own for the plain formats that models are sold in. They read what is common in
// those formats, several times faster than the general importer, and leave the rest to it; 3MF, of
// which it leaves out too much; and AMF, which it takes too long for. Private to model/.

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>

#include "model/mapped_file.hpp"
#include "model/readers/recording_io.hpp"
#include "model/soup.hpp"
#include "scene/scene.hpp"

namespace rakelight {

/// What the file holds, as the importer would give it; empty when it is of another format, or
/// holds something unusual that only the importer knows what to make of.
/// @param normals  the file's own are left out where nobody will ask for them
/// Throws Error(bad_model) without the file's name when the file is clearly damaged: cut short, or
/// with faces that name vertices it does not have.
std::optional<Soup> read_plain_format(const std::filesystem::path& file, RecordingIo& io,
                                      const ReadingSettings& reading);

/// Whether the format, or the file, has nothing but triangles: 3MF, AMF, STL, and PLY with strips,
/// whose faces beside them are cut too.
bool has_triangles_only(const std::filesystem::path& file);

// The formats. Each throws Unfamiliar where it leaves the file to the importer.

Soup read_stl(const MappedFile& file, NormalSource normals);
/// For read_stl.
Soup read_text_stl(const MappedFile& file, NormalSource normals);
Soup read_ply(const MappedFile& file, NormalSource normals);
/// Notes the material libraries in `io`, which make a difference to the importer.
Soup read_obj(const MappedFile& file, const std::filesystem::path& path, RecordingIo& io,
              const ReadingSettings& reading);

// With their conventions; they leave nothing to the importer.
Soup read_3mf(const MappedFile& file, const ReadingSettings& reading);
Soup read_amf(const MappedFile& file, const ReadingSettings& reading);

/// For Error(bad_model): a face that names a vertex which is not there.
/// @param first  what the format's first vertex is called, 0 or 1
[[noreturn]] void refuse_index(std::int64_t index, std::uint64_t vertices, int first);

/// For Error(bad_model): more vertices or triangles than 32 bits can count.
void check_count(std::uint64_t vertices, std::uint64_t triangles);

}  // namespace rakelight
