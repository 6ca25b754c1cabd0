#include "model/zip_package.hpp"

#include <zip.h>

#include "error.hpp"
#include "model/text_scan.hpp"

namespace rakelight {
namespace {

[[noreturn]] void refuse(const std::string& what, zip_error_t& error) {
    const std::string reason = zip_error_strerror(&error);
    zip_error_fini(&error);
    throw Error(ExitCode::bad_model, what + " (" + reason +
                                         "); expected a sound zip archive; download or export the "
                                         "file again");
}

struct CloseEntry {
    void operator()(zip_file_t* entry) const { zip_fclose(entry); }
};
using Entry = std::unique_ptr<zip_file_t, CloseEntry>;

}  // namespace

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
    for (;;) {
        const std::size_t had = bytes.size();
        bytes.resize(had + step);
        const zip_int64_t count = zip_fread(entry.get(), bytes.data() + had, step);
        if (count < 0) damaged(*zip_file_get_error(entry.get()));
        bytes.resize(had + static_cast<std::size_t>(count));
        if (count == 0) return bytes;
    }
}

std::optional<std::string> read_packed(std::string_view archive, std::string_view extension) {
    const ZipPackage package(archive);
    for (const std::string& name : package.names())
        if (lower(name).ends_with(extension)) return package.read(name);
    return std::nullopt;
}

}  // namespace rakelight
