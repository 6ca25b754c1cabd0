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
    std::uint32_t sum = 0;  ///< of the bytes; nobody gets so far in most
};
/// PKWARE's APPNOTE.TXT, 4.3.
std::string zip_of(const std::vector<ZipEntry>& entries);

/// CRC-32 as zip archives have it.
std::uint32_t sum_of(const std::string& bytes);

/// glTF 2.0 with one triangle whose accessor of positions claims `count` of them.
std::string gltf_claiming(std::uint64_t count);

/// glTF 2.0 with a triangle at the end of a chain of so many nodes.
std::string gltf_chain(unsigned nodes);

/// COLLADA with nodes within nodes; and with a node that is its own child.
std::string collada_nested(unsigned nodes);
std::string collada_cycle();

/// X (DirectX) in text, packed ("tzip"): blocks of MSZIP that unpack to `start` and then so many
/// MiB of spaces. Each block is "CK" and a stream of deflate for at most 32 KiB (MS-MCI, section
/// 2.1), behind both its sizes (from memory).
std::string packed_x(const std::string& start, unsigned mib);

/// Binary FBX 7.4 with one triangle whose array of coordinates claims `count` doubles; they are
/// packed by zlib, and are those of the triangle and then so many MiB of zeros. The format is not
/// published: as exporters write it, from memory.
std::string packed_fbx(std::uint32_t count, unsigned mib);

/// Quick3D object whose only mesh claims `count` vertices.
std::string q3o_claiming(std::uint32_t count);

/// glTF 2.0 whose triangle is packed by Draco (KHR_draco_mesh_compression; Draco bitstream 2.2,
/// sequential connectivity) and claims `faces` faces.
std::string draco_claiming(std::uint32_t faces);

}  // namespace cli_test
