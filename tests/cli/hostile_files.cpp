#include "hostile_files.hpp"

#include <zlib.h>

#include <stdexcept>

namespace cli_test {
namespace {

std::string little(std::uint64_t value, int bytes) {
    std::string out;
    for (int i = 0; i < bytes; ++i, value >>= 8) out += static_cast<char>(value);
    return out;
}

/// Bytes packed up to a boundary behind which anything may follow (zlib's Z_FULL_FLUSH).
std::string packed_piece(std::string bytes) {
    z_stream stream{};
    if (::deflateInit2(&stream, 9, Z_DEFLATED, -15, 9, Z_DEFAULT_STRATEGY) != Z_OK)
        throw std::runtime_error("zlib");
    std::string out(::deflateBound(&stream, bytes.size()) + 16, '\0');
    stream.next_in = reinterpret_cast<Bytef*>(bytes.data());
    stream.avail_in = static_cast<uInt>(bytes.size());
    stream.next_out = reinterpret_cast<Bytef*>(out.data());
    stream.avail_out = static_cast<uInt>(out.size());
    ::deflate(&stream, Z_FULL_FLUSH);
    out.resize(stream.total_out);
    ::deflateEnd(&stream);
    return out;
}

const std::string triangle_buffer =  // (0,0,0) (1,0,0) (0,1,0) as floats
    "data:application/octet-stream;base64,AAAAAAAAAAAAAAAAAACAPwAAAAAAAAAAAAAAAAAAgD8AAAAA";

std::string gltf_of(const std::string& nodes, std::uint64_t count) {
    return R"({"asset":{"version":"2.0"},"scene":0,"scenes":[{"nodes":[0]}],"nodes":[)" + nodes +
           R"(],"meshes":[{"primitives":[{"attributes":{"POSITION":0}}]}],"accessors":[)" +
           R"({"bufferView":0,"componentType":5126,"type":"VEC3","count":)" +
           std::to_string(count) +
           R"(}],"bufferViews":[{"buffer":0,"byteLength":36}],"buffers":[{"byteLength":36,)" +
           R"("uri":")" + triangle_buffer + R"("}]})";
}

std::string collada_of(const std::string& scene) {
    return "<?xml version=\"1.0\"?>\n<COLLADA xmlns=\"http://www.collada.org/2005/11/"
           "COLLADASchema\" version=\"1.4.1\"><asset/><library_visual_scenes>"
           "<visual_scene id=\"s\">" +
           scene +
           "</visual_scene></library_visual_scenes><scene><instance_visual_scene url=\"#s\"/>"
           "</scene></COLLADA>";
}

}  // namespace

std::string packed_run(const std::string& start, char filler, unsigned mib) {
    std::string out = packed_piece(start);
    const std::string piece = packed_piece(std::string(1 << 20, filler));
    for (unsigned i = 0; i < mib; ++i) out += piece;
    return out + std::string("\x03\x00", 2);  // a last block that is empty
}

std::string gzip_run(const std::string& start, char filler, unsigned mib) {
    return std::string("\x1f\x8b\x08\x00\x00\x00\x00\x00\x00\x03", 10) +
           packed_run(start, filler, mib) + std::string(8, '\0');
}

std::string zip_of(const std::vector<ZipEntry>& entries) {
    std::string files, directory;
    for (const ZipEntry& entry : entries) {
        const std::string common = little(20, 2) + little(0, 2) + little(8, 2) + little(0, 8) +
                                   little(entry.packed.size(), 4) +
                                   little(entry.unpacked_bytes, 4) + little(entry.name.size(), 2) +
                                   little(0, 2);
        directory += "PK\x01\x02" + little(20, 2) + common + little(0, 10) +
                     little(files.size(), 4) + entry.name;
        files += "PK\x03\x04" + common + entry.name + entry.packed;
    }
    return files + directory + "PK\x05\x06" + little(0, 4) + little(entries.size(), 2) +
           little(entries.size(), 2) + little(directory.size(), 4) + little(files.size(), 4) +
           little(0, 2);
}

std::string gltf_claiming(std::uint64_t count) {
    return gltf_of(R"({"mesh":0})", count);
}

std::string gltf_chain(unsigned nodes) {
    std::string list;
    for (unsigned i = 1; i < nodes; ++i) list += R"({"children":[)" + std::to_string(i) + "]},";
    return gltf_of(list + R"({"mesh":0})", 3);
}

std::string collada_nested(unsigned nodes) {
    std::string scene;
    for (unsigned i = 0; i < nodes; ++i) scene += "<node>";
    for (unsigned i = 0; i < nodes; ++i) scene += "</node>";
    return collada_of(scene);
}

std::string collada_cycle() {
    return collada_of("<node id=\"n\"><instance_node url=\"#n\"/></node>");
}

}  // namespace cli_test
