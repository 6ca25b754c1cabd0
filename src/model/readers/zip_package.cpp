#include "model/readers/zip_package.hpp"

#include <zip.h>

#include <algorithm>
#include <cstdint>

#include "error.hpp"
#include "model/readers/text_scan.hpp"

namespace rakelight {
namespace {

[[noreturn]] void refuse(const std::string& what, zip_error_t& error) {
    const std::string reason = zip_error_strerror(&error);
    zip_error_fini(&error);
    throw Error(ExitCode::bad_model, what + " (" + reason +
                                         "); expected a sound zip archive; download or export the "
                                         "file again");
}

// Text of numbers shrinks to a fifth or a tenth, the most regular to a hundredth (common practice);
// zeros to a thousandth, which is all that the packing can (zlib, "zlib Technical Details": 1032 to
// 1).
constexpr std::size_t most_times = 200, always_bytes = std::size_t{256} << 20;

std::size_t most_unpacked(zip* archive, zip_int64_t index) {
    zip_stat_t status;
    zip_stat_init(&status);
    if (zip_stat_index(archive, static_cast<zip_uint64_t>(index), 0, &status) != 0 ||
        (status.valid & ZIP_STAT_COMP_SIZE) == 0)
        return always_bytes;
    return rakelight::most_unpacked(status.comp_size);
}

[[noreturn]] void refuse_bomb(const std::string& name, std::size_t most) {
    throw Error(ExitCode::bad_model, "\"" + name + "\" in its package unpacks to more than " +
                                         std::to_string(most >> 20) + " MiB, " + made_to_exhaust);
}

struct CloseEntry {
    void operator()(zip_file_t* entry) const { zip_fclose(entry); }
};
using Entry = std::unique_ptr<zip_file_t, CloseEntry>;

}  // namespace

std::size_t most_unpacked(std::uint64_t packed_bytes) {
    const std::uint64_t packed = std::min<std::uint64_t>(packed_bytes, SIZE_MAX / most_times);
    return std::max<std::size_t>(always_bytes, most_times * packed);
}

bool begins_zip(std::string_view bytes) {
    return bytes.starts_with(std::string_view("PK\x03\x04", 4));
}

void ZipPackage::Close::operator()(zip* archive) const {
    zip_discard(archive);
}

ZipPackage::ZipPackage(std::string_view bytes) {
    zip_error_t error;
    zip_error_init(&error);
    zip_source_t* source = zip_source_buffer_create(bytes.data(), bytes.size(), 0, &error);
    if (source != nullptr) archive_.reset(zip_open_from_source(source, ZIP_RDONLY, &error));
    if (archive_ == nullptr) {
        if (source != nullptr) zip_source_free(source);
        refuse("its package cannot be opened", error);
    }
    zip_error_fini(&error);
}

std::vector<std::string> ZipPackage::names() const {
    std::vector<std::string> names;
    const zip_int64_t count = zip_get_num_entries(archive_.get(), 0);
    for (zip_int64_t i = 0; i < count; ++i) {
        const char* name = zip_get_name(archive_.get(), static_cast<zip_uint64_t>(i), 0);
        if (name != nullptr) names.emplace_back(name);
    }
    return names;
}

std::uint64_t ZipPackage::unpacked_bytes(std::string_view extension) const {
    std::uint64_t bytes = 0;
    const zip_int64_t count = zip_get_num_entries(archive_.get(), 0);
    for (zip_int64_t i = 0; i < count; ++i) {
        zip_stat_t status;
        zip_stat_init(&status);
        if (zip_stat_index(archive_.get(), static_cast<zip_uint64_t>(i), 0, &status) != 0) continue;
        constexpr zip_uint64_t wanted = ZIP_STAT_NAME | ZIP_STAT_SIZE;
        if ((status.valid & wanted) == wanted && lower(status.name).ends_with(extension))
            bytes += std::min<std::uint64_t>(status.size, most_unpacked(archive_.get(), i));
    }
    return bytes;
}

std::optional<std::string> ZipPackage::read(const std::string& name) const {
    const zip_int64_t index = zip_name_locate(archive_.get(), name.c_str(), ZIP_FL_NOCASE);
    if (index < 0) return std::nullopt;
    const auto damaged = [&](zip_error_t& error) {
        refuse("\"" + name + "\" in its package cannot be read", error);
    };
    const Entry entry(zip_fopen_index(archive_.get(), static_cast<zip_uint64_t>(index), 0));
    if (entry == nullptr) damaged(*zip_get_error(archive_.get()));
    // What the archive says of an entry's size may be a lie: it grows as it comes.
    std::string bytes;
    constexpr std::size_t step = 1 << 20;
    const std::size_t most = most_unpacked(archive_.get(), index);
    for (;;) {
        const std::size_t had = bytes.size();
        bytes.resize(had + step);
        const zip_int64_t count = zip_fread(entry.get(), bytes.data() + had, step);
        if (count < 0) damaged(*zip_file_get_error(entry.get()));
        bytes.resize(had + static_cast<std::size_t>(count));
        if (count == 0) return bytes;
        if (bytes.size() > most) refuse_bomb(name, most);
    }
}

std::optional<std::string> read_packed(std::string_view archive, std::string_view extension) {
    const ZipPackage package(archive);
    for (const std::string& name : package.names())
        if (lower(name).ends_with(extension)) return package.read(name);
    return std::nullopt;
}

}  // namespace rakelight
