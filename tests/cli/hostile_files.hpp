#pragma once
// Files that claim, nest or hold more than anybody can read. Small on disk; each is written here
// from the format's own description.

#include <cstdint>
#include <string>
#include <vector>

namespace cli_test {

/// A stream of deflate (RFC 1951) that unpacks to `start` and so many MiB of one character.
std::string packed_run(const std::string& start, char filler, unsigned mib);

/// The same as a file of gzip (RFC 1952). Its checksum is wrong: nobody gets so far.
std::string gzip_run(const std::string& start, char filler, unsigned mib);

/// An entry of a zip archive, packed by deflate already.
struct ZipEntry {
    std::string name, packed;
    std::uint32_t unpacked_bytes;
};
/// PKWARE's APPNOTE.TXT, 4.3; checksums are left 0.
std::string zip_of(const std::vector<ZipEntry>& entries);

/// glTF 2.0 with one triangle whose accessor of positions claims `count` of them.
std::string gltf_claiming(std::uint64_t count);

/// glTF 2.0 with a triangle at the end of a chain of so many nodes.
std::string gltf_chain(unsigned nodes);

/// COLLADA with nodes within nodes; and with a node that is its own child.
std::string collada_nested(unsigned nodes);
std::string collada_cycle();

}  // namespace cli_test
