#pragma once
// glTF models with pictures, written by the tests. Written from glTF 2.0 and the PNG and TGA
// formats' descriptions; nothing here is the program's own.

#include <doctest/doctest.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <functional>
#include <numbers>
#include <string>
#include <vector>

#include <glm/glm.hpp>

#include "model/load.hpp"

namespace texture_test {

inline std::string base64(const std::string& bytes) {
    static constexpr const char* digits =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    std::string out;
    for (std::size_t i = 0; i < bytes.size(); i += 3) {
        unsigned v = 0;
        for (std::size_t k = 0; k < 3; ++k)
            v = v << 8 | (i + k < bytes.size() ? static_cast<unsigned char>(bytes[i + k]) : 0u);
        for (std::size_t k = 0; k < 4; ++k)
            out += i + k <= bytes.size() ? digits[v >> (18 - 6 * k) & 63] : '=';
    }
    return out;
}

inline void append_number(std::string& to, std::uint32_t value) {
    for (int shift = 24; shift >= 0; shift -= 8) to += static_cast<char>(value >> shift & 255);
}

/// A chunk of a PNG with its CRC-32 (PNG specification, third edition, 5.3 and annex D).
inline std::string png_chunk(const std::string& type, const std::string& data) {
    std::string out, body = type + data;
    append_number(out, static_cast<std::uint32_t>(data.size()));
    std::uint32_t crc = 0xFFFFFFFF;
    for (const char c : body) {
        crc ^= static_cast<unsigned char>(c);
        for (int k = 0; k < 8; ++k) crc = (crc & 1) != 0 ? 0xEDB88320U ^ crc >> 1 : crc >> 1;
    }
    append_number(body, ~crc);
    return out + body;
}

/// A zlib stream that is not compressed (RFC 1950, RFC 1951 3.2.4).
inline std::string stored(const std::string& bytes) {
    std::string out = "\x78\x01";
    std::uint32_t a = 1, b = 0;
    for (const char c : bytes) {
        a = (a + static_cast<unsigned char>(c)) % 65521;
        b = (b + a) % 65521;
    }
    for (std::size_t i = 0; i < bytes.size(); i += 65535) {
        const std::size_t size = std::min<std::size_t>(65535, bytes.size() - i);
        out += i + size == bytes.size() ? '\1' : '\0';
        for (const std::size_t n : {size, ~size}) {
            out += static_cast<char>(n & 255);
            out += static_cast<char>(n >> 8 & 255);
        }
        out += bytes.substr(i, size);
    }
    append_number(out, b << 16 | a);
    return out;
}

/// A PNG of 16 bits a channel: rows from the top, the high byte first.
/// @param channels  grey; grey, alpha; red, green, blue; or these and alpha
/// @param value  of a channel at (u, v) of the texel's middle, v up, 0 to 1
inline std::string png(int width, int height, int channels,
                       const std::function<double(double u, double v, int channel)>& value) {
    std::string bytes;
    for (int y = 0; y < height; ++y) {
        bytes += '\0';  // no filter
        for (int x = 0; x < width; ++x)
            for (int c = 0; c < channels; ++c) {
                const double v = value((x + 0.5) / width, 1.0 - (y + 0.5) / height, c);
                const auto code = static_cast<int>(std::lround(65535.0 * v));
                bytes += static_cast<char>(code >> 8);
                bytes += static_cast<char>(code & 255);
            }
    }
    std::string header;
    append_number(header, static_cast<std::uint32_t>(width));
    append_number(header, static_cast<std::uint32_t>(height));
    header += '\x10';
    constexpr std::array<char, 4> colour_types{0, 4, 2, 6};
    header += colour_types[static_cast<std::size_t>(channels - 1)];
    header += std::string(3, '\0');
    return "\x89PNG\r\n\x1A\n" + png_chunk("IHDR", header) + png_chunk("IDAT", stored(bytes)) +
           png_chunk("IEND", "");
}

/// A picture with alpha: TGA, type 2, 32 bits, rows from the top, blue first.
inline std::string tga(int width, int height,
                       const std::function<double(double u, double v)>& alpha) {
    std::string bytes(18, '\0');
    bytes[2] = 2;
    bytes[12] = static_cast<char>(width & 255);
    bytes[13] = static_cast<char>(width >> 8);
    bytes[14] = static_cast<char>(height & 255);
    bytes[15] = static_cast<char>(height >> 8);
    bytes[16] = 32;
    bytes[17] = 0x28;
    for (int y = 0; y < height; ++y)
        for (int x = 0; x < width; ++x) {
            const double a = alpha((x + 0.5) / width, 1.0 - (y + 0.5) / height);
            bytes += std::string("\x80\x80\x80") + static_cast<char>(std::lround(255.0 * a));
        }
    return bytes;
}

/// A tangent-space normal map of the slopes of heights (glTF 2.0, 3.9.3: red x, green y upwards in
/// the picture, blue z; code (n + 1) / 2).
/// @param slope  rise per length to the right and upwards, at (u, v)
inline std::string normal_map(int width, int height,
                              const std::function<glm::dvec2(double u, double v)>& slope) {
    return png(width, height, 3, [&](double u, double v, int c) {
        const glm::dvec2 s = slope(u, v);
        const glm::dvec3 n = glm::normalize(glm::dvec3(-s.x, -s.y, 1.0));
        return 0.5 * (n[c] + 1.0);
    });
}

struct Textured {
    std::vector<glm::vec3> points, normals;
    std::vector<glm::vec2> places;  ///< as glTF has them: v downwards
    std::vector<std::array<std::uint32_t, 3>> triangles;
    std::string material = R"({"normalTexture": {"index": 0}})";
    std::string image = R"({"uri": "map.png"})";
    std::string sampler = "{}";
};

/// A sheet in the plane of x and y that faces +z, cells x cells quads, its places from 0 to
/// `repeats` over the whole.
inline Textured sheet(double size, int cells, double repeats = 1.0) {
    Textured t;
    for (int j = 0; j <= cells; ++j)
        for (int i = 0; i <= cells; ++i) {
            const double u = static_cast<double>(i) / cells, v = static_cast<double>(j) / cells;
            t.points.emplace_back(size * (u - 0.5), size * (v - 0.5), 0.0);
            t.normals.emplace_back(0, 0, 1);
            t.places.emplace_back(repeats * u, 1.0 - repeats * v);
        }
    const auto n = static_cast<std::uint32_t>(cells + 1);
    for (std::uint32_t j = 0; j + 1 < n; ++j)
        for (std::uint32_t i = 0; i + 1 < n; ++i) {
            const std::uint32_t a = j * n + i;
            t.triangles.push_back({a, a + 1, a + n + 1});
            t.triangles.push_back({a, a + n + 1, a + n});
        }
    return t;
}

inline std::string as_gltf(const Textured& t) {
    std::string bytes;
    const auto append = [&](const auto& list) {
        for (const auto& item : list) {
            std::array<char, sizeof item> raw{};
            std::memcpy(raw.data(), &item, sizeof item);
            bytes.append(raw.data(), raw.size());
        }
    };
    const std::size_t n = t.points.size();
    append(t.points);
    append(t.normals);
    append(t.places);
    append(t.triangles);
    const auto view = [](std::size_t offset, std::size_t size) {
        return R"({"buffer": 0, "byteOffset": )" + std::to_string(offset) + R"(, "byteLength": )" +
               std::to_string(size) + "}";
    };
    const auto accessor = [](int number, int type, std::size_t count, const char* kind) {
        return R"({"bufferView": )" + std::to_string(number) + R"(, "componentType": )" +
               std::to_string(type) + R"(, "count": )" + std::to_string(count) + R"(, "type": ")" +
               kind + R"("})";
    };
    return R"({"asset": {"version": "2.0"}, "scene": 0, "scenes": [{"nodes": [0]}],
"extensionsUsed": ["KHR_texture_transform"], "nodes": [{"mesh": 0, "name": "sheet"}],
"meshes": [{"primitives": [{"attributes": {"POSITION": 0, "NORMAL": 1, "TEXCOORD_0": 2},
"indices": 3, "material": 0}]}], "materials": [)" +
           t.material + R"(], "textures": [{"source": 0, "sampler": 0}], "samplers": [)" +
           t.sampler + R"(], "images": [)" + t.image + R"(], "accessors": [)" +
           accessor(0, 5126, n, "VEC3") + "," + accessor(1, 5126, n, "VEC3") + "," +
           accessor(2, 5126, n, "VEC2") + "," +
           accessor(3, 5125, 3 * t.triangles.size(), "SCALAR") + R"(], "bufferViews": [)" +
           view(0, 12 * n) + "," + view(12 * n, 12 * n) + "," + view(24 * n, 8 * n) + "," +
           view(32 * n, 12 * t.triangles.size()) + R"(], "buffers": [{"byteLength": )" +
           std::to_string(bytes.size()) + R"(, "uri": "data:application/octet-stream;base64,)" +
           base64(bytes) + R"("}]})";
}

/// A folder that goes with its test.
class Folder {
public:
    Folder() {
        std::string name = std::filesystem::temp_directory_path() / "texture-test-XXXXXX";
        REQUIRE(::mkdtemp(name.data()) != nullptr);
        path_ = name;
    }
    Folder(const Folder&) = delete;
    Folder& operator=(const Folder&) = delete;
    ~Folder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    void write(const std::filesystem::path& name, const std::string& bytes) const {
        std::filesystem::create_directories((path_ / name).parent_path());
        std::ofstream(path_ / name, std::ios::binary) << bytes;
    }
    std::filesystem::path operator/(const std::string& name) const { return path_ / name; }

private:
    std::filesystem::path path_;
};

inline rakelight::Mesh load(const std::filesystem::path& file,
                            rakelight::ReadingSettings reading = {}) {
    rakelight::LoadOptions options;
    options.cache.use = false;
    options.reading = reading;
    return rakelight::load_model(file, options);
}

/// Loads a model with the picture beside it as "map.png".
inline rakelight::Mesh load(const Textured& model, const std::string& picture,
                            rakelight::ReadingSettings reading = {}) {
    const Folder folder;
    if (!picture.empty()) folder.write("map.png", picture);
    folder.write("model.gltf", as_gltf(model));
    return load(folder / "model.gltf", reading);
}

}  // namespace texture_test
