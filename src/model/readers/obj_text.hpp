#pragma once
// What the importer gets of an OBJ file, and where one is at fault. Private to model/.

#include <filesystem>
#include <optional>
#include <string>
#include <string_view>

#include "model/readers/obj_libraries.hpp"
#include "model/readers/recording_io.hpp"

namespace rakelight {

/// The text as the importer takes it for what it is, line for line; empty when it does so anyhow:
/// - objects become groups: the importer cuts an object's name at a blank, and what comes under a
///   name that it knows it gives to the object before;
/// - comments behind numbers are left out;
/// - backslashes in names become slashes: the importer takes them for the line's continuation.
std::optional<std::string> mended_obj(std::string_view text);

/// Reads the material libraries of an OBJ file and has `io` give the importer what it takes of
/// them, their materials' names, and the file's text where it has to be mended. Other files are
/// left as they are.
ObjLibraries prepare_obj(const std::filesystem::path& file, RecordingIo& io);

/// Throws Error(bad_model) for the first corner of a face, line or point that is no number or names
/// a vertex which is not there, with its line; does nothing where all are sound.
void refuse_bad_corner(std::string_view text);

}  // namespace rakelight
