#pragma once
// What the tests of picture readers ask of them.

#include <doctest/doctest.h>

#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "model/pictures/image_file.hpp"

namespace picture_test {

using rakelight::PictureFile;
using rakelight::UnreadablePicture;
using Codes = std::vector<std::uint16_t>;

inline PictureFile read(const std::string& bytes) {
    return rakelight::read_picture(
        {reinterpret_cast<const unsigned char*>(bytes.data()), bytes.size()});
}

inline std::string refusal(const std::string& bytes) {
    try {
        read(bytes);
    } catch (const UnreadablePicture& reason) {
        return reason.what();
    }
    return "was read";
}

inline bool says(const std::string& bytes, const std::string& part) {
    const std::string text = refusal(bytes);
    INFO(text);
    const bool found = text.find(part) != std::string::npos;
    CHECK(found);
    return found;
}

/// A file's bytes.
inline std::string content(const std::filesystem::path& file) {
    std::ifstream in(file, std::ios::binary);
    std::ostringstream out;
    out << in.rdbuf();
    return out.str();
}

}  // namespace picture_test
