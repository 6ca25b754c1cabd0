#include "model/grey_picture.hpp"

#include <unistd.h>
#include <xxhash.h>

#include <array>
#include <cerrno>
#include <cstdio>
#include <span>
#include <system_error>

#include "error.hpp"
#include "model/confined/child.hpp"
#include "model/confined/private_file.hpp"
#include "model/pictures/image_file.hpp"

namespace rakelight {
namespace fs = std::filesystem;
namespace {

constexpr std::uint64_t most_file_bytes = std::uint64_t{1} << 30;

[[noreturn]] void refuse(const std::string& name, const std::string& found) {
    throw Error(ExitCode::bad_scene, name + ": " + found +
                                         "; expected a picture that can be read: PNG, TIFF, JPEG, "
                                         "BMP, TGA, PSD, GIF, WebP, OpenEXR, DDS or KTX");
}

std::vector<unsigned char> bytes_of(const fs::path& file) {
    const FileHandle handle = open_regular(file);
    std::vector<unsigned char> bytes;
    std::array<unsigned char, 1 << 16> chunk;
    for (;;) {
        const ssize_t count = ::read(handle.get(), chunk.data(), chunk.size());
        if (count < 0 && errno == EINTR) continue;
        if (count < 0) throw std::system_error(errno, std::generic_category());
        if (count == 0) return bytes;
        bytes.insert(bytes.end(), chunk.begin(), chunk.begin() + count);
        if (bytes.size() > most_file_bytes)
            throw UnreadablePicture("it is larger than 1 GiB; expected a smaller file");
    }
}

GreyPicture grey_of(const PictureFile& picture) {
    GreyPicture grey{static_cast<int>(picture.width), static_cast<int>(picture.height), {}, {}};
    const std::uint64_t texels = std::uint64_t{picture.width} * picture.height;
    const std::uint32_t colours = picture.channels < 3 ? 1 : 3;
    grey.grey.resize(texels);
    if (picture.has_alpha()) grey.alpha.resize(texels);
    for (std::uint64_t i = 0; i < texels; ++i) {
        std::uint32_t sum = 0;
        for (std::uint32_t c = 0; c < colours; ++c) sum += picture.at(i, c);
        grey.grey[i] = static_cast<std::uint16_t>((sum + colours / 2) / colours);
        if (picture.has_alpha()) grey.alpha[i] = picture.at(i, picture.channels - 1);
    }
    return grey;
}

/// How a picture goes from the child to its parent: this, then grey, then alpha where it is.
struct Head {
    std::int32_t width, height, has_alpha;
};

void get(int file, std::span<std::byte> bytes, std::uint64_t offset) {
    if (!read_bytes(file, bytes, offset))
        throw Error(ExitCode::own_fault, "a picture that was read got lost");
}

void put_picture(int file, const GreyPicture& picture) {
    const Head head{picture.width, picture.height, picture.alpha.empty() ? 0 : 1};
    append_bytes(file, std::as_bytes(std::span(&head, 1)));
    append_bytes(file, std::as_bytes(std::span(picture.grey)));
    append_bytes(file, std::as_bytes(std::span(picture.alpha)));
}

GreyPicture got_picture(int file) {
    Head head{};
    get(file, std::as_writable_bytes(std::span(&head, 1)), 0);
    check_picture_size(static_cast<std::uint64_t>(head.width),
                       static_cast<std::uint64_t>(head.height));
    GreyPicture picture{head.width, head.height, {}, {}};
    const auto texels =
        static_cast<std::size_t>(head.width) * static_cast<std::size_t>(head.height);
    picture.grey.resize(texels);
    get(file, std::as_writable_bytes(std::span(picture.grey)), sizeof head);
    if (head.has_alpha == 0) return picture;
    picture.alpha.resize(texels);
    get(file, std::as_writable_bytes(std::span(picture.alpha)), sizeof head + 2 * texels);
    return picture;
}

/// Runs in the child.
void read_into(int output, const fs::path& file) {
    try {
        put_picture(output, grey_of(read_picture(bytes_of(file))));
    } catch (const UnreadablePicture& e) {
        throw Error(ExitCode::bad_model, e.what());
    }
}

void check_is_file(const fs::path& file, const std::string& name) {
    try {
        open_regular(file);
    } catch (const std::system_error& e) {
        refuse(name, "found a file that cannot be read (" + e.code().message() + ")");
    }
}

}  // namespace

std::string GreyPicture::hash() const {
    std::uint64_t value =
        XXH3_64bits_withSeed(grey.data(), 2 * grey.size(), static_cast<std::uint64_t>(width));
    if (!alpha.empty()) value = XXH3_64bits_withSeed(alpha.data(), 2 * alpha.size(), value);
    char text[17];
    std::snprintf(text, sizeof text, "%016llx", static_cast<unsigned long long>(value));
    return text;
}

GreyPicture load_grey_picture(const fs::path& file, const std::string& name) {
    check_is_file(file, name);
    const FileHandle output = open_private_file();
    const fs::path whole = fs::absolute(file);
    const ChildReport report =
        run_in_child({}, {{whole}, output.get()}, [&] { read_into(output.get(), whole); });
    switch (report.end) {
        case ChildEnd::done:
            return got_picture(output.get());
        case ChildEnd::refused:
            throw Error(ExitCode::bad_scene, name + ": " + report.text);
        case ChildEnd::not_written:
            refuse(name, "found a file that cannot be read or kept (" + report.text + ")");
        case ChildEnd::out_of_memory:
            refuse(name, "found a picture too large for the memory there is");
        default:
            refuse(name, "found a file that its reading did not survive (" + report.text + ")");
    }
}

}  // namespace rakelight
