#include "model/import_need.hpp"

#include <algorithm>
#include <array>
#include <optional>
#include <span>
#include <utility>

#include "model/cage.hpp"
#include "model/confined/child.hpp"
#include "model/confined/private_file.hpp"
#include "model/import_bytes.hpp"
#include "model/mapped_file.hpp"
#include "model/readers/gltf_contents.hpp"
#include "model/readers/head_counts.hpp"
#include "model/readers/text_scan.hpp"
#include "model/readers/zip_package.hpp"
#include "share_work.hpp"

namespace rakelight {
namespace {

namespace fs = std::filesystem;

constexpr std::uint64_t program_bytes = std::uint64_t{24} << 20;
constexpr std::uint64_t bytes_per_thread = std::uint64_t{1} << 20;

// How often its own size a file of the format takes. Measured on joined surfaces and rough ones.
std::uint64_t times_of(const std::string& extension) {
    struct Times {
        const char* extension;
        std::uint64_t times;
    };
    constexpr std::array<Times, 5> known{
        {{".obj", 6}, {".stl", 5}, {".off", 8}, {".amf", 10}, {".ply", 12}}};
    for (const Times& one : known)
        if (extension == one.extension) return one.times;
    return 14;
}

/// A format whose document lies packed in a zip archive.
struct Packed {
    const char* extension;
    const char* document;  ///< ends its name in the archive
    std::uint64_t times;   ///< what it takes, of the document
};

constexpr std::array<Packed, 3> packed_formats{
    {{".3mf", ".model", 8}, {".amf", ".amf", 10}, {".zae", ".dae", 14}}};

/// What `ask` says of the file in a child process: what stands in it may be anything. Nothing when
/// that comes to no good end.
/// @param ask  called with the file's absolute path; returns an optional of plain data
template <class Ask>
auto ask_in_child(const fs::path& file, const LoadOptions& options, const Ask& ask) {
    const FileHandle output = open_private_file();
    decltype(ask(file)) answer(std::in_place);
    const auto look = [&] {
        if (const auto found = ask(fs::absolute(file)))
            append_bytes(output.get(), std::as_bytes(std::span(&*found, 1)));
    };
    run_in_child(options.limits, reach_of_model(file, options.reading.outside_files, output.get()),
                 look);
    if (!read_bytes(output.get(), std::as_writable_bytes(std::span(&*answer, 1)), 0))
        answer.reset();
    return answer;
}

std::optional<std::uint64_t> unpacked_bytes(const fs::path& file, const Packed& packed) {
    const MappedFile mapped(file);
    return ZipPackage(mapped.bytes()).unpacked_bytes(packed.document);
}

std::optional<GltfContents> contents_of(const fs::path& file, const ReadingSettings& reading) {
    // Never deleted: the process ends with it.
    RecordingIo& io = *new RecordingIo(file, {}, reading);
    return gltf_contents(file, io, reading);
}

// The general importer keeps a file's JSON, buffers, numbers and faces, of which each is an
// allocation; its JSON is read here besides. A node pays for the part that it may become.
std::uint64_t bytes_for(const GltfContents& contents) {
    constexpr std::uint64_t a_json_byte = 3, a_value = 85, a_buffer_byte = 2, a_vertex = 48,
                            a_face = 60, a_node = 3500, a_key = 280;
    return a_json_byte * contents.json_bytes + a_value * contents.json_values +
           a_buffer_byte * contents.buffer_bytes + a_vertex * contents.in_file.vertices +
           a_face * contents.in_file.triangles + surface_bytes(contents.stored, true) +
           a_node * contents.nodes + a_key * contents.keys +
           pictures_bytes(contents.largest_texels, contents.texels);
}

std::string counts_text(const SurfaceSize& size) {
    return std::to_string(size.triangles) + " triangles, " + std::to_string(size.vertices) +
           " vertices";
}

ImportNeed of_surface(const SurfaceSize& size, std::uint64_t bytes, std::string basis,
                      const CageSettings& cage) {
    ImportNeed need{bytes, size.triangles, std::move(basis) + counts_text(size)};
    // How often an edge is halved until it is short enough, only its reading tells.
    if (cage.rule == CageRule::none || !cage.times) return need;
    need.bytes += subdivision_bytes(size.triangles, cage.rule, *cage.times);
    need.basis += ", subdivided " + std::to_string(*cage.times) + " times";
    return need;
}

ImportNeed of_size(const std::string& extension, std::uint64_t times, std::uint64_t bytes,
                   const std::string& what) {
    return {times * bytes, 0,
            std::to_string(times) + " times " + what + ", as is usual for " +
                (extension.empty() ? "such a file" : extension)};
}

ImportNeed of_packed(const fs::path& file, std::uint64_t file_bytes, const Packed& packed,
                     const LoadOptions& options) {
    constexpr std::uint64_t times_packed = 60;
    const auto bytes = ask_in_child(
        file, options, [&](const fs::path& asked) { return unpacked_bytes(asked, packed); });
    if (!bytes || *bytes == 0)
        return of_size(packed.extension, times_packed, file_bytes, "its size");
    return of_size(packed.extension, packed.times, *bytes,
                   "the " + std::to_string(*bytes >> 20) + " MiB that it unpacks to");
}

ImportNeed of_gltf(const fs::path& file, std::uint64_t file_bytes, const std::string& extension,
                   const LoadOptions& options) {
    const auto contents = ask_in_child(
        file, options, [&](const fs::path& asked) { return contents_of(asked, options.reading); });
    if (contents && contents->counted)
        return of_surface(contents->stored, bytes_for(*contents),
                          contents->texels == 0
                              ? "its own counts: "
                              : "pictures of " + std::to_string(contents->texels) +
                                    " pixels, and its own counts: ",
                          options.reading.cage);
    const std::uint64_t bytes =
        contents ? std::max(file_bytes, contents->json_bytes + contents->buffer_bytes) : file_bytes;
    return of_size(extension, times_of(extension), bytes, "its size");
}

ImportNeed of_contents(const fs::path& file, std::uint64_t file_bytes, const LoadOptions& options) {
    const std::string extension = lower(file.extension().string());
    if (const auto counts = head_counts(file, file_bytes))
        return of_surface(counts->size, surface_bytes(counts->size, counts->normals),
                          "the head of its file: ", options.reading.cage);
    for (const Packed& packed : packed_formats)
        if (extension == packed.extension && begins_zip(first_bytes_of(file, 4)))
            return of_packed(file, file_bytes, packed, options);
    if (extension == ".gltf" || extension == ".glb")
        return of_gltf(file, file_bytes, extension, options);
    return of_size(extension, times_of(extension), file_bytes, "its size");
}

}  // namespace

ImportNeed import_need(const fs::path& file, std::uint64_t file_bytes, const LoadOptions& options) {
    ImportNeed need = of_contents(file, file_bytes, options);
    need.bytes += program_bytes + machine_threads() * bytes_per_thread;
    return need;
}

}  // namespace rakelight
