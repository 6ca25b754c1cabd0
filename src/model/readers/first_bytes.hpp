#pragma once
// What a file is by its first bytes, where its name says something else. Private to model/.

#include <filesystem>
#include <string_view>

namespace rakelight {

/// Throws Error(bad_model), without the file's name, when the first bytes plainly tell a format
/// that its extension does not stand for, or a kind of its format that nothing here reads: archives
/// (with the models in them), models under another extension, web pages, pointers in place of a
/// file, STEP, binary OFF, packed BLEND; and binary glTF that is shorter than its header says.
/// @param bytes      the whole file
/// @param extension  in lower case, with its dot; may be empty
void check_first_bytes(std::string_view bytes, std::string_view extension);

/// The same of a file; of one that cannot be read nothing is said here.
void check_first_bytes(const std::filesystem::path& file);

}  // namespace rakelight
