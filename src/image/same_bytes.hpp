#pragma once
// Whether two files hold the same.

#include <filesystem>

namespace rakelight {

/// Whether both are regular files (not links to one) of equal bytes. False when one of them is not
/// there or cannot be read.
bool same_bytes(const std::filesystem::path& a, const std::filesystem::path& b) noexcept;

}  // namespace rakelight
