#include "model/load.hpp"

#include <cerrno>
#include <optional>
#include <system_error>

#include "error.hpp"
#include "interrupt.hpp"
#include "machine_memory.hpp"
#include "model/cache.hpp"
#include "model/confined/child.hpp"
#include "model/confined/file_handle.hpp"
#include "model/confined/private_file.hpp"
#include "model/flat_mesh.hpp"
#include "model/hash.hpp"
#include "model/import_need.hpp"
#include "model/mesh_file.hpp"
#include "model/readers/import.hpp"

namespace rakelight {
namespace fs = std::filesystem;
namespace {

[[noreturn]] void refuse(const fs::path& file, const std::string& what) {
    throw Error(ExitCode::bad_model, file.string() + ": " + what);
}

FileHash hash_model(const fs::path& file) {
    FileHash hash;
    try {
        hash = hash_file(file);
    } catch (const std::system_error& e) {
        if (e.code() == std::errc::no_such_file_or_directory)
            refuse(file, "there is no such file; expected a model file; check the path");
        if (e.code() == std::errc::is_a_directory)
            refuse(file, "this is a folder; expected a model file; name the file in it");
        if (e.code() == std::errc::not_supported)
            refuse(file, "this is a pipe or a device; expected a regular file; save it first");
        refuse(file, "it cannot be read (" + e.code().message() +
                         "); expected a readable model file; check its permissions");
    }
    if (hash.stamp.bytes == 0)
        refuse(file, "the file is empty; expected a model; download or export it again");
    return hash;
}

void check_not_endless(const RecordingIo& io) {
    if (!io.includes_itself()) return;
    throw Error(
        ExitCode::bad_model,
        "it includes itself, over and over; expected a model that ends; mend what it refers "
        "to, or export it again");
}

/// A file that cannot be read for want of another says which one that is.
Soup read_with_reasons(const fs::path& file, RecordingIo& io, const ReadingSettings& reading) {
    try {
        Soup soup = read_soup(file, io, reading);
        check_not_endless(io);
        return soup;
    } catch (const Error& e) {
        check_not_endless(io);
        std::string text = e.what();
        for (const std::string& warning : io.warnings()) text += "; " + warning;
        throw Error(e.code(), text);
    }
}

/// What the child does: from the model's file to the flat mesh file.
void import_model(const fs::path& file, const FileHash& hash, const LoadOptions& options,
                  int output) {
    // The importer owns it and is never deleted.
    RecordingIo& io = *new RecordingIo(file, hash.stamp, options.reading);
    FlatMesh mesh = build_flat_mesh(read_with_reasons(file, io, options.reading), options.reading);
    for (std::string& warning : io.warnings()) mesh.facts.warnings.push_back(std::move(warning));
    mesh.side_files = io.side_files();
    mesh.hash = "xxh3:" + combined_hash(hash.hex, mesh.side_files);
    mesh.file_bytes = io.bytes();
    write_mesh_file(output, mesh);
}

// A model of so few bytes comes nowhere near the limits unless it claims what it does not hold.
std::string limits_advice(const std::string& which, const FileHash& hash) {
    constexpr std::uint64_t few_bytes = 1 << 20;
    if (hash.stamp.bytes < few_bytes)
        return "; where nothing large lies beside it, a file of " +
               std::to_string(hash.stamp.bytes) +
               " bytes is damaged or made to exhaust the machine when it asks for so much; export "
               "the model again, or as another format; else raise the import's " +
               which + " limit";
    return "; if the file is sound, raise the import's " + which + " limit or simplify the model";
}

[[noreturn]] void throw_failure(const fs::path& file, const FileHash& hash,
                                const ChildReport& report, const ImportLimits& limits) {
    switch (report.end) {
        case ChildEnd::refused:
            refuse(file, report.text);
        case ChildEnd::out_of_memory:
            refuse(file, "its import ran out of memory (limit " +
                             std::to_string(std::min(limits.memory_mib,
                                                     limits.own_mib.value_or(limits.memory_mib))) +
                             " MiB" + (report.text.empty() ? "" : "; " + report.text) + ")" +
                             limits_advice("memory", hash));
        case ChildEnd::cpu_limit:
            refuse(file, "its import took more than " + std::to_string(limits.cpu_s) +
                             " s of CPU time" + limits_advice("CPU time", hash));
        case ChildEnd::wall_limit:
            refuse(file, "its import took longer than " + std::to_string(limits.wall_s) + " s" +
                             limits_advice("time", hash));
        case ChildEnd::crashed:
            refuse(file, "its import crashed (" + report.text +
                             "): the file is damaged or of a kind that the importer cannot take; "
                             "export it again, or as another format");
        case ChildEnd::forbidden:
            refuse(file, "its import asked the system for something that no import needs (" +
                             report.text +
                             ") and was ended: the file is damaged, or made to take the importer "
                             "over; export it again, or as another format, and do not open it with "
                             "programs that are less careful");
        case ChildEnd::not_written:
            throw Error(ExitCode::not_written,
                        file.string() + ": the imported mesh could not be written (" + report.text +
                            "); free some disk space or set TMPDIR to a folder with space");
        default:
            throw Error(ExitCode::own_fault, file.string() + ": the import failed: " + report.text);
    }
}

std::shared_ptr<Mesh::Mapping> map_imported(const fs::path& file, int descriptor) {
    if (auto mapping = map_mesh_file(descriptor)) return mapping;
    throw Error(ExitCode::own_fault, file.string() + ": the imported mesh is not sound");
}

ChildReport import_in_child(const fs::path& file, const FileHash& hash, const LoadOptions& options,
                            int output) {
    refuse_import_beyond(*options.limits.own_mib, file, hash.stamp.bytes, options);
    return run_in_child(options.limits, reach_of_model(file, options.reading.outside_files, output),
                        [&] { import_model(fs::absolute(file), hash, options, output); });
}

/// Import without a cache.
std::shared_ptr<Mesh::Mapping> import_privately(const fs::path& file, const FileHash& hash,
                                                const LoadOptions& options) {
    const FileHandle output = open_private_file();
    const ChildReport report = import_in_child(file, hash, options, output.get());
    if (report.end != ChildEnd::done) throw_failure(file, hash, report, options.limits);
    return map_imported(file, output.get());
}

std::string cache_warning(const LoadOptions& options, const std::system_error& error) {
    const std::string folder =
        options.cache.folder ? "\"" + options.cache.folder->string() + "\" " : "";
    return "the mesh cache " + folder + "cannot be used (" + error.what() +
           "): the model is imported anew each time";
}

/// Import into the cache. Throws std::system_error when it is the cache that cannot be written.
std::shared_ptr<Mesh::Mapping> import_into(const Cache& cache, const std::string& key,
                                           const fs::path& file, const FileHash& hash,
                                           const LoadOptions& options) {
    TemporaryFile output = cache.create();
    const ChildReport report = import_in_child(file, hash, options, output.descriptor());
    if (report.end == ChildEnd::not_written)
        throw std::system_error(std::make_error_code(std::errc::no_space_on_device), report.text);
    if (report.end != ChildEnd::done) throw_failure(file, hash, report, options.limits);
    std::shared_ptr<Mesh::Mapping> mapping = map_imported(file, output.descriptor());
    try {
        cache.keep(output, key);
    } catch (const std::system_error& e) {
        mapping->facts.warnings.push_back(cache_warning(options, e));
    }
    return mapping;
}

}  // namespace

std::uint64_t memory_limit_mib(const LoadOptions& options) {
    return options.memory_mib ? *options.memory_mib : available_memory_mib();
}

void refuse_import_beyond(std::uint64_t limit_mib, const fs::path& file, std::uint64_t file_bytes,
                          const LoadOptions& options) {
    const ImportNeed need = import_need(file, file_bytes, options);
    const std::uint64_t need_mib = (need.bytes + (1 << 20) - 1) >> 20;
    if (need_mib <= limit_mib) return;
    refuse(file, "its import may take up to " + std::to_string(need_mib) + " MiB (" + need.basis +
                     "); expected at most " + std::to_string(limit_mib) +
                     " MiB (--memory); simplify the model, or allow more");
}

Confinement import_confinement() {
    return run_in_child({}, {}, [] {}).confinement;
}

Mesh load_model(const fs::path& file, const LoadOptions& given) {
    stop_if_interrupted();
    LoadOptions options = given;
    options.limits.own_mib = memory_limit_mib(given);
    const FileHash hash = hash_model(file);
    if (!options.cache.use) return Mesh(import_privately(file, hash, options));
    std::string warning;
    try {
        const Cache cache(options.cache);
        const std::string key = cache_key(hash.hex, file, options);
        if (auto entry = cache.find(key, fs::absolute(file).parent_path())) return Mesh(entry);
        return Mesh(import_into(cache, key, file, hash, options));
    } catch (const std::system_error& e) {
        warning = cache_warning(options, e);
    }
    std::shared_ptr<Mesh::Mapping> mapping = import_privately(file, hash, options);
    mapping->facts.warnings.push_back(std::move(warning));
    return Mesh(mapping);
}

}  // namespace rakelight
