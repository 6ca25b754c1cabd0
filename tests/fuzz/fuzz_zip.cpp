#include "fuzz_zip.hpp"

#include <zlib.h>

#include <cstdint>
#include <optional>

namespace fuzz {
namespace {

constexpr std::string_view local_magic("PK\x03\x04", 4), central_magic("PK\x01\x02", 4),
    end_magic("PK\x05\x06", 4);
constexpr std::size_t local_bytes = 30, central_bytes = 46;
constexpr std::size_t most_unpacked = 1 << 20;

std::string little(std::uint64_t value, int bytes) {
    std::string out;
    for (int i = 0; i < bytes; ++i, value >>= 8) out += static_cast<char>(value);
    return out;
}

std::uint64_t number(std::string_view bytes, std::size_t at, int count) {
    std::uint64_t value = 0;
    for (int i = count; i-- > 0;)
        value = value << 8 | static_cast<unsigned char>(bytes[at + static_cast<std::size_t>(i)]);
    return value;
}

std::uint32_t sum_of(std::string_view bytes) {
    return static_cast<std::uint32_t>(
        ::crc32(0, reinterpret_cast<const Bytef*>(bytes.data()), static_cast<uInt>(bytes.size())));
}

std::optional<std::string> unpacked(std::string_view packed) {
    z_stream stream{};
    if (::inflateInit2(&stream, -15) != Z_OK) return std::nullopt;
    std::string out(most_unpacked, '\0');
    stream.next_in = reinterpret_cast<Bytef*>(const_cast<char*>(packed.data()));
    stream.avail_in = static_cast<uInt>(packed.size());
    stream.next_out = reinterpret_cast<Bytef*>(out.data());
    stream.avail_out = static_cast<uInt>(out.size());
    const int end = ::inflate(&stream, Z_FINISH);
    out.resize(stream.total_out);
    ::inflateEnd(&stream);
    return end == Z_STREAM_END ? std::optional(std::move(out)) : std::nullopt;
}

/// Both headers of the entry whose central one begins at `central`.
void mend_entry(std::string& archive, std::size_t central) {
    const std::string_view all = archive;
    const std::size_t local = number(all, central + 42, 4);
    if (local > all.size() || all.size() - local < local_bytes ||
        all.substr(local, 4) != local_magic)
        return;
    const std::size_t begin =
        local + local_bytes + number(all, local + 26, 2) + number(all, local + 28, 2);
    const std::size_t size = number(all, central + 20, 4);
    if (begin > all.size() || all.size() - begin < size) return;
    const std::uint64_t method = number(all, central + 10, 2);
    const std::string_view bytes = all.substr(begin, size);
    std::optional<std::string> content;
    if (method == 0) content = std::string(bytes);
    if (method == 8) content = unpacked(bytes);
    if (!content) return;
    const std::string sum = little(sum_of(*content), 4);
    archive.replace(central + 16, 4, sum);
    archive.replace(local + 14, 4, sum);
}

}  // namespace

std::string zip_of(const std::vector<std::pair<std::string, std::string_view>>& entries) {
    std::string files, directory;
    for (const auto& [name, bytes] : entries) {
        const std::string common = little(20, 2) + little(0, 8) + little(sum_of(bytes), 4) +
                                   little(bytes.size(), 4) + little(bytes.size(), 4) +
                                   little(name.size(), 2) + little(0, 2);
        directory += std::string(central_magic) + little(20, 2) + common + little(0, 10) +
                     little(files.size(), 4) + name;
        files += std::string(local_magic) + common + name + std::string(bytes);
    }
    return files + directory + std::string(end_magic) + little(0, 4) + little(entries.size(), 2) +
           little(entries.size(), 2) + little(directory.size(), 4) + little(files.size(), 4) +
           little(0, 2);
}

void mend_checksums(std::string& archive) {
    for (std::size_t at = 0; (at = archive.find(central_magic, at)) != std::string::npos; ++at)
        if (archive.size() - at >= central_bytes) mend_entry(archive, at);
}

}  // namespace fuzz
