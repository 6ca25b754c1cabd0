#include "ply_file.hpp"

#include <bit>
#include <cerrno>
#include <cstdint>
#include <fstream>
#include <stdexcept>
#include <system_error>

namespace {

void append_u32(std::string& bytes, std::uint32_t value) {
    for (int shift = 0; shift < 32; shift += 8) {
        bytes.push_back(static_cast<char>((value >> shift) & 0xffU));
    }
}

void append_vector(std::string& bytes, const glm::dvec3& vector) {
    for (int axis = 0; axis < 3; ++axis) {
        append_u32(bytes, std::bit_cast<std::uint32_t>(static_cast<float>(vector[axis])));
    }
}

std::string header(const Mesh& mesh, const std::vector<std::string>& comments) {
    std::string text = "ply\nformat binary_little_endian 1.0\n";
    for (const std::string& comment : comments) text += "comment " + comment + "\n";
    text += "element vertex " + std::to_string(mesh.positions.size()) + "\n";
    for (const char* name : {"x", "y", "z"}) {
        text += std::string("property float ") + name + "\n";
    }
    text += "element face " + std::to_string(mesh.triangles.size()) + "\n";
    return text + "property list uchar int vertex_indices\nend_header\n";
}

std::string encoded(const Mesh& mesh, const std::vector<std::string>& comments) {
    std::string bytes = header(mesh, comments);
    bytes.reserve(bytes.size() + mesh.positions.size() * 12 + mesh.triangles.size() * 13);
    for (const glm::dvec3& position : mesh.positions) append_vector(bytes, position);
    for (const glm::u32vec3& triangle : mesh.triangles) {
        bytes.push_back('\3');
        for (int corner = 0; corner < 3; ++corner) append_u32(bytes, triangle[corner]);
    }
    return bytes;
}

[[noreturn]] void fail(const std::string& what, const std::filesystem::path& path, int error) {
    throw std::runtime_error("cannot " + what + " " + path.string() + ": " +
                             std::generic_category().message(error));
}

// A rename would put the file in the place of a device or a pipe: only files may be replaced.
void refuse_unless_replaceable(const std::filesystem::path& path) {
    std::error_code error;
    const auto status = std::filesystem::status(path, error);
    if (!std::filesystem::exists(status) || std::filesystem::is_regular_file(status)) return;
    throw std::runtime_error("cannot write " + path.string() + ": it is there and not a file");
}

void write_bytes(const std::filesystem::path& path, const std::string& bytes) {
    errno = 0;
    std::ofstream file(path, std::ios::binary | std::ios::trunc);
    if (!file) fail("create", path, errno);
    file.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
    file.close();  // flushes; a full disk may show only here
    if (!file) fail("write", path, errno);
}

}  // namespace

void write_ply(const std::filesystem::path& path, const Mesh& mesh,
               const std::vector<std::string>& comments) {
    refuse_unless_replaceable(path);
    std::filesystem::path unfinished = path;
    unfinished += ".part";
    std::error_code error;
    try {
        write_bytes(unfinished, encoded(mesh, comments));
    } catch (...) {
        std::filesystem::remove(unfinished, error);
        throw;
    }
    std::filesystem::rename(unfinished, path, error);
    if (!error) return;
    const int why = error.value();
    std::filesystem::remove(unfinished, error);
    fail("rename the finished file to", path, why);
}
