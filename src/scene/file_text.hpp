#pragma once
// The text of a file that somebody typed by hand.

#include <cstddef>
#include <filesystem>
#include <string>
#include <string_view>

namespace rakelight::scene_file {

/// What is larger is some other file.
constexpr std::size_t most_text_bytes = 1 << 20;

/// @param what  "a scene file", for messages
/// @return at most one byte more than most_text_bytes
/// Throws Error(bad_scene) when it cannot be read.
std::string file_text(const std::filesystem::path& path, std::string_view what);

/// Throws Error(bad_scene): "PATH: found FOUND; expected WHAT. HINT".
[[noreturn]] void throw_bad_file(const std::filesystem::path& path, const std::string& found,
                                 std::string_view what, const std::string& hint = "");

}  // namespace rakelight::scene_file
