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

// ---- FBX: a node is where it ends, how many properties of how many bytes, its name, these, and
// the nodes in it, closed by a node of zeros.

constexpr std::size_t fbx_node_head = 13;

std::string fbx_text(const std::string& text) {
    return "S" + little(text.size(), 4) + text;
}

std::string fbx_id(std::uint64_t id) {
    return "L" + little(id, 8);
}

std::string fbx_array(char type, std::uint32_t count, bool packed, const std::string& bytes) {
    return type + little(count, 4) + little(packed ? 1 : 0, 4) + little(bytes.size(), 4) + bytes;
}

struct FbxNode {
    std::string name;
    std::vector<std::string> properties;
    std::vector<FbxNode> inside;
};

/// @param at  where in the file the node begins
std::string bytes_of(const FbxNode& node, std::size_t at) {
    std::string properties, inside;
    for (const std::string& property : node.properties) properties += property;
    const std::size_t begin = at + fbx_node_head + node.name.size() + properties.size();
    for (const FbxNode& child : node.inside) inside += bytes_of(child, begin + inside.size());
    if (!node.inside.empty()) inside += std::string(fbx_node_head, '\0');
    return little(begin + inside.size(), 4) + little(node.properties.size(), 4) +
           little(properties.size(), 4) + little(node.name.size(), 1) + node.name + properties +
           inside;
}

/// A mesh of one triangle, shown by one node of the scene.
std::vector<FbxNode> fbx_of(const std::string& coordinates) {
    const std::string model("m\0\1Model", 8), geometry("g\0\1Geometry", 11);
    const std::string corners =
        fbx_array('i', 3, false, little(0, 4) + little(1, 4) + little(~std::uint64_t{2}, 4));
    return {{"FBXHeaderExtension", {}, {{"FBXVersion", {"I" + little(7400, 4)}, {}}}},
            {"Objects",
             {},
             {{"Geometry",
               {fbx_id(10), fbx_text(geometry), fbx_text("Mesh")},
               {{"Vertices", {coordinates}, {}}, {"PolygonVertexIndex", {corners}, {}}}},
              {"Model",
               {fbx_id(20), fbx_text(model), fbx_text("Mesh")},
               {{"Version", {"I" + little(232, 4)}, {}}}}}},
            {"Connections",
             {},
             {{"C", {fbx_text("OO"), fbx_id(20), fbx_id(0)}, {}},
              {"C", {fbx_text("OO"), fbx_id(10), fbx_id(20)}, {}}}}};
}

/// RFC 4648, section 4, of whole groups of three bytes.
std::string base64(std::string bytes) {
    constexpr const char* digits =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    bytes.resize((bytes.size() + 2) / 3 * 3);
    std::string text;
    for (std::size_t i = 0; i < bytes.size(); i += 3) {
        std::uint32_t group = 0;
        for (std::size_t k = 0; k < 3; ++k)
            group = group << 8 | static_cast<unsigned char>(bytes[i + k]);
        for (int shift = 18; shift >= 0; shift -= 6) text += digits[group >> shift & 63];
    }
    return text;
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
        const std::string common = little(20, 2) + little(0, 2) + little(8, 2) + little(0, 4) +
                                   little(entry.sum, 4) + little(entry.packed.size(), 4) +
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

std::string packed_x(const std::string& start, unsigned mib) {
    const auto block = [](const std::string& bytes) {
        const std::string packed = "CK" + packed_piece(bytes) + std::string("\x03\x00", 2);
        return little(bytes.size(), 2) + little(packed.size(), 2) + packed;
    };
    constexpr unsigned block_bytes = 1 << 15, blocks_per_mib = (1u << 20) / block_bytes;
    const std::string spaces = block(std::string(block_bytes, ' '));
    const std::size_t unpacked = 16 + start.size() + (std::size_t{mib} << 20);
    std::string out = "xof 0303tzip0032" + little(unpacked, 4) + block(start);
    for (unsigned i = 0; i < mib * blocks_per_mib; ++i) out += spaces;
    return out;
}

std::string packed_fbx(std::uint32_t count, unsigned mib) {
    std::string corners(72, '\0');  // (0,0,0) (1,0,0) (0,1,0) as doubles
    for (const std::size_t one : {3, 7})
        corners.replace(8 * one, 8, std::string("\0\0\0\0\0\0\xf0\x3f", 8));
    std::string zlib = "\x78\xda" + packed_run(corners, '\0', mib);
    // The checksum of the corners; nobody gets to the end of more.
    const auto sum = static_cast<std::uint32_t>(
        ::adler32(1, reinterpret_cast<const Bytef*>(corners.data()), 72));
    for (int shift = 24; shift >= 0; shift -= 8) zlib += static_cast<char>(sum >> shift & 255);
    std::string file = std::string("Kaydara FBX Binary  \0\x1a\0", 23) + little(7400, 4);
    for (const FbxNode& node : fbx_of(fbx_array('d', count, true, zlib)))
        file += bytes_of(node, file.size());
    return file + std::string(fbx_node_head, '\0');
}

std::string q3o_claiming(std::uint32_t count) {
    return "quick3Do30" + little(1, 4) + little(0, 8) + "m" + std::string("mesh\0", 5) +
           little(count, 4) + std::string(64, '\0');
}

std::string draco_claiming(std::uint32_t faces) {
    std::string draco("DRACO\x02\x02\x01\x00\x00\x00", 11);
    for (int shift = 0; shift < 35; shift += 7)  // seven bits a byte, 128 for more to come
        draco += static_cast<char>((std::uint64_t{faces} >> shift & 127) | (shift < 28 ? 128 : 0));
    draco += std::string("\x03\x00", 2) + std::string(66, '\0');  // three points; packed corners
    const std::string size = std::to_string(draco.size());
    return R"({"asset":{"version":"2.0"},"extensionsUsed":["KHR_draco_mesh_compression"],)"
           R"("extensionsRequired":["KHR_draco_mesh_compression"],"scene":0,)"
           R"("scenes":[{"nodes":[0]}],"nodes":[{"mesh":0}],"meshes":[{"primitives":[{)"
           R"("attributes":{"POSITION":0},"indices":1,"extensions":{)"
           R"("KHR_draco_mesh_compression":{"bufferView":0,"attributes":{"POSITION":0}}}}]}],)"
           R"("accessors":[{"componentType":5126,"type":"VEC3","count":3},)"
           R"({"componentType":5125,"type":"SCALAR","count":)" +
           std::to_string(3 * std::uint64_t{faces}) +
           R"(}],"bufferViews":[{"buffer":0,"byteLength":)" + size +
           R"(}],"buffers":[{"byteLength":)" + size +
           R"(,"uri":"data:application/octet-stream;base64,)" + base64(draco) + R"("}]})";
}

std::uint32_t sum_of(const std::string& bytes) {
    return static_cast<std::uint32_t>(
        ::crc32(0, reinterpret_cast<const Bytef*>(bytes.data()), static_cast<uInt>(bytes.size())));
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
