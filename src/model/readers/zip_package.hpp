#pragma once
// A zip archive in memory, as 3MF, zipped AMF and COLLADA files are. Private to model/.

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

struct zip;

namespace rakelight {

/// Whether these bytes begin a zip archive (APPNOTE, section 4.3.7: a local file header).
bool begins_zip(std::string_view bytes);

class ZipPackage {
public:
    /// @param bytes  the archive; must outlive this
    /// Throws Error(bad_model), without the file's name, when it is no sound archive.
    explicit ZipPackage(std::string_view bytes);

    /// Of all entries, in the archive's order.
    std::vector<std::string> names() const;

    /// What the archive says that its entries of this extension, in any case, unpack to; of one that
    /// claims more than is ever unpacked of it, that.
    std::uint64_t unpacked_bytes(std::string_view extension) const;

    /// An entry's bytes, its checksum proved; empty when there is none of that name, whatever the
    /// case of its ASCII letters. Throws Error(bad_model) when the entry is damaged, encrypted or
    /// packed in a way that is not known.
    std::optional<std::string> read(const std::string& name) const;

private:
    struct Close {
        void operator()(zip* archive) const;
    };
    std::unique_ptr<zip, Close> archive_;
};

/// Most bytes that so many packed ones of a model unpack to; more is a bomb.
std::size_t most_unpacked(std::uint64_t packed_bytes);

/// What is to be said of a bomb, after how much it unpacks to.
inline constexpr const char* made_to_exhaust =
    "over 200 times what it takes packed: it was made to exhaust the machine; expected a model; do "
    "not trust where it came from";

/// The first entry whose name ends so, in any case. Throws as ZipPackage does.
std::optional<std::string> read_packed(std::string_view archive, std::string_view extension);

}  // namespace rakelight
