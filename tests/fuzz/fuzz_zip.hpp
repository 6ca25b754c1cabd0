#pragma once
// Zip archives of the targets' own making, so that what a mutation changes is not stopped by a
// checksum.

#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace fuzz {

/// An archive with these entries, each as it stands (PKWARE's APPNOTE.TXT, 4.3; method 0, stored).
std::string zip_of(const std::vector<std::pair<std::string, std::string_view>>& entries);

/// Puts the right checksum into every entry of an archive whose bytes lie where its central
/// directory says, stored or packed by deflate; leaves alone what cannot be followed.
void mend_checksums(std::string& archive);

}  // namespace fuzz
