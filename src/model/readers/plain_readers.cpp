#include "model/readers/plain_readers.hpp"

#include <algorithm>
#include <array>
#include <system_error>

#include "error.hpp"
#include "model/readers/conventions.hpp"
#include "model/readers/ply_header.hpp"
#include "model/readers/text_scan.hpp"
#include "model/readers/utf16.hpp"

namespace rakelight {

namespace fs = std::filesystem;

std::optional<Soup> read_plain_format(const fs::path& file, RecordingIo& io,
                                      const ReadingSettings& reading) {
    const std::string extension = lower(file.extension().string());
    constexpr std::array known{".stl", ".ply", ".obj", ".3mf", ".amf"};
    if (std::find(known.begin(), known.end(), extension) == known.end()) return std::nullopt;
    try {
        const MappedFile mapped(file);
        if (extension == ".3mf") return read_3mf(mapped, reading);
        if (extension == ".amf") return read_amf(mapped, reading);
        if (begins_utf16(mapped.bytes().substr(0, 514))) return std::nullopt;
        Soup soup;
        if (extension == ".stl") {
            soup = read_stl(mapped, reading.normals);
            apply_conventions("Stereolithography", soup);
        } else if (extension == ".ply") {
            soup = read_ply(mapped, reading.normals);
            apply_conventions("Stanford Polygon Library", soup);
        } else {
            soup = read_obj(mapped, file, io, reading);
            apply_conventions("Wavefront Object", soup);
        }
        return soup;
    } catch (const Unfamiliar&) {
        return std::nullopt;
    } catch (const std::system_error&) {
        return std::nullopt;  // the importer will say why
    }
}

bool has_triangles_only(const fs::path& file) {
    const std::string extension = lower(file.extension().string());
    if (extension == ".3mf" || extension == ".amf" || extension == ".stl") return true;
    if (extension != ".ply") return false;
    try {
        const MappedFile mapped(file);
        return read_ply_header(mapped.bytes()).has_strips();
    } catch (const Unfamiliar&) {
        return false;
    } catch (const std::system_error&) {
        return false;  // the importer will say why
    }
}

void refuse_index(std::int64_t index, std::uint64_t vertices, int first) {
    throw Error(ExitCode::bad_model, "a face names vertex " + std::to_string(index) + " of " +
                                         std::to_string(vertices) + " (counted from " +
                                         std::to_string(first) +
                                         "); expected a sound file; export the model again");
}

void check_count(std::uint64_t vertices, std::uint64_t triangles) {
    constexpr std::uint64_t most = 0xFFFFFFF0;
    if (vertices <= most && 3 * triangles <= most) return;
    throw Error(ExitCode::bad_model, "it has " + std::to_string(vertices) + " vertices and " +
                                         std::to_string(triangles) + " faces; expected at most " +
                                         std::to_string(most) + " and " + std::to_string(most / 3) +
                                         "; simplify the model");
}

}  // namespace rakelight
