// WebP and OpenEXR pictures, written by the formats' own libraries with texels that are known.

#include <ImfChannelList.h>
#include <ImfFrameBuffer.h>
#include <ImfHeader.h>
#include <ImfOutputFile.h>
#include <doctest/doctest.h>
#include <webp/encode.h>

#include <cmath>
#include <functional>
#include <list>

#include "test_picture_reading.hpp"
#include "test_picture_support.hpp"
#include "test_texture_support.hpp"

using namespace rakelight;
using namespace picture_test;
using texture_test::Folder;

namespace {

struct ExrChannel {
    const char* name;
    std::vector<float> values;
    Imf::PixelType type = Imf::FLOAT;
    int sampling = 1;
};

std::string exr(int width, int height, const std::vector<ExrChannel>& channels,
                Imf::Compression packing = Imf::ZIP_COMPRESSION,
                const std::function<void(Imf::Header&)>& more = {}) {
    const Folder folder;
    const std::string path = folder / "a.exr";
    Imf::Header header(width, height);
    header.compression() = packing;
    if (more) more(header);
    Imf::FrameBuffer buffer;
    std::list<std::vector<half>> halves;
    for (const ExrChannel& c : channels) {
        header.channels().insert(c.name, Imf::Channel(c.type, c.sampling, c.sampling));
        const auto* base = reinterpret_cast<const char*>(c.values.data());
        if (c.type == Imf::HALF) {
            halves.emplace_back(c.values.begin(), c.values.end());
            base = reinterpret_cast<const char*>(halves.back().data());
        }
        const std::size_t size = c.type == Imf::HALF ? sizeof(half) : sizeof(float);
        buffer.insert(c.name, Imf::Slice(c.type, const_cast<char*>(base), size,
                                         size * static_cast<std::size_t>(width / c.sampling),
                                         c.sampling, c.sampling));
    }
    {
        Imf::OutputFile file(path.c_str(), header, 0);
        file.setFrameBuffer(buffer);
        file.writePixels(height);
    }
    return content(path);
}

}  // namespace

TEST_CASE("OpenEXR gives its floats without any curve, whatever its packing") {
    const std::vector<float> r{0.0F, 0.25F, 0.5F, 1.0F}, g{1.0F, 0.5F, 0.25F, 0.0F},
        b{0.125F, 0.125F, 1.0F, 1.0F};
    for (const Imf::Compression packing :
         {Imf::NO_COMPRESSION, Imf::RLE_COMPRESSION, Imf::ZIPS_COMPRESSION, Imf::ZIP_COMPRESSION,
          Imf::PIZ_COMPRESSION}) {
        CAPTURE(int(packing));
        const PictureFile picture = read(exr(2, 2, {{"R", r}, {"G", g}, {"B", b}}, packing));
        REQUIRE(picture.channels == 3);
        CHECK(picture.values ==
              Codes{0, 65535, 8192, 16384, 32768, 8192, 32768, 16384, 65535, 65535, 0, 65535});
        CHECK(picture.note.empty());
    }
    CHECK(read(exr(2, 2, {{"height", r}})).values == Codes{0, 16384, 32768, 65535});
    CHECK(read(exr(2, 2, {{"R", r}, {"G", g}})).channels == 3);
    // Halves, and an alpha that the colours are multiplied by (Technical Introduction to OpenEXR,
    // "Alpha"): 0.25 of 0.5.
    const std::vector<float> halves(4, 0.5F), quarter(4, 0.25F);
    const PictureFile cut = read(exr(2, 2, {{"Y", quarter, Imf::HALF}, {"A", halves, Imf::HALF}}));
    REQUIRE(cut.channels == 2);
    CHECK(std::abs(cut.at(0, 0) - 32768) <= 1);
    CHECK(cut.at(0, 1) == 32768);
}

TEST_CASE("OpenEXR directions from -1 to 1 become the codes of a normal map") {
    const std::vector<float> x{0.0F, 0.6F, -0.6F, 0.0F}, y{0.0F, 0.0F, 0.0F, -0.8F},
        z{1.0F, 0.8F, 0.8F, 0.6F};
    const PictureFile xyz = read(exr(2, 2, {{"n.X", x}, {"n.Y", y}, {"n.Z", z}}));
    // (v + 1) / 2, glTF 2.0, 3.9.3; the float 0.8 is a little above it.
    CHECK(xyz.values ==
          Codes{32768, 32768, 65535, 52428, 32768, 58982, 13107, 32768, 58982, 32768, 6553, 52428});
    CHECK(xyz.note.empty());
    CHECK(read(exr(2, 2, {{"R", x}, {"G", y}})).values ==
          Codes{32768, 32768, 0, 52428, 32768, 0, 13107, 32768, 0, 32768, 6553, 0});
}

TEST_CASE("OpenEXR that is not read, damaged or too large is refused with what it is") {
    const std::vector<float> v(4, 0.5F);
    CHECK(says(exr(2, 2, {{"P", v}, {"Q", v}}), "its channels are \"P\", \"Q\"; expected R, G, B"));
    CHECK(says(exr(2, 2, {{"Y", v}, {"RY", v, Imf::HALF, 2}, {"BY", v, Imf::HALF, 2}}),
               "its channels are"));
    const auto crop = [](Imf::Header& header) {
        header.displayWindow() = Imath::Box2i({0, 0}, {7, 7});
    };
    CHECK(says(exr(2, 2, {{"Y", v}}, Imf::ZIP_COMPRESSION, crop), "its data window is 2 x 2"));
    const std::string whole = exr(2, 2, {{"R", v}, {"G", v}, {"B", v}}, Imf::NO_COMPRESSION);
    for (std::size_t size = 0; size < whole.size(); ++size) {
        CAPTURE(size);
        REQUIRE(refusal(whole.substr(0, size)) != "was read");
    }
    // The windows' corner at 99999, 99999 (OpenEXR File Layout: box2i, lowest byte first).
    std::string huge = whole;
    for (const char* name : {"dataWindow", "displayWindow"}) {
        const std::size_t at = huge.find(name) + std::string(name).size() + 1 + 6 + 4;
        huge.replace(at + 8, 8, little(99999) + little(99999));
    }
    CHECK(says(huge, "it claims 100000 x 100000 pixels; expected 1 to 16384 a side"));
    for (std::size_t i = 8; i < whole.size(); ++i) {
        std::string spoilt = whole;
        spoilt[i] = static_cast<char>(~spoilt[i]);
        refusal(spoilt);  // read or refused, and nothing else
    }
}

TEST_CASE("WebP without loss gives its bytes, and what is damaged is refused") {
    std::string texels;
    for (int i = 0; i < 4 * 6; ++i) texels += static_cast<char>(10 * i);
    std::uint8_t* packed = nullptr;
    const auto* raw = reinterpret_cast<const std::uint8_t*>(texels.data());
    const std::size_t size = WebPEncodeLosslessRGBA(raw, 3, 2, 12, &packed);
    const std::string whole(reinterpret_cast<const char*>(packed), size);
    WebPFree(packed);
    const PictureFile picture = read(whole);
    REQUIRE(picture.channels == 4);
    REQUIRE(picture.width == 3);
    for (std::uint32_t i = 1; i < 6; ++i)  // the first is invisible, and the encoder clears it
        for (std::uint32_t c = 0; c < 4; ++c)
            CHECK(picture.at(i, c) == 257 * static_cast<unsigned char>(texels[4 * i + c]));
    const std::size_t opaque = WebPEncodeLosslessRGB(raw, 3, 2, 9, &packed);
    CHECK(read(std::string(reinterpret_cast<const char*>(packed), opaque)).channels == 3);
    WebPFree(packed);
    for (std::size_t n = 0; n < whole.size(); ++n) {
        CAPTURE(n);
        REQUIRE(refusal(whole.substr(0, n)) != "was read");
    }
    CHECK(says(whole.substr(0, whole.size() - 3), "a WebP file that is cut short"));
    // 14 bits hold at most 16384 a side (RFC 9649, 3.4), which is the limit; both together are more
    // texels than are read. The two sides stand behind the signature byte of the VP8L chunk.
    std::string huge = whole;
    const std::size_t at = huge.find('\x2F', 20) + 1;
    huge.replace(at, 4, little(0x3FFF | 0x3FFF << 14 | 1 << 28));
    CHECK(says(huge, "it claims 16384 x 16384 pixels"));
}

TEST_CASE("WebP and OpenEXR are unpacked in the confined child, whatever their packing") {
    const std::vector<float> x(16, 0.5F), z(16, 1.0F);
    std::string texels;
    for (int i = 0; i < 16; ++i) texels += "\x80\x80\xFF";
    std::uint8_t* packed = nullptr;
    const auto* raw = reinterpret_cast<const std::uint8_t*>(texels.data());
    const std::size_t size = WebPEncodeRGB(raw, 4, 4, 12, 90, &packed);
    const std::string webp(reinterpret_cast<const char*>(packed), size);
    WebPFree(packed);
    std::vector<std::string> pictures{webp};
    for (const Imf::Compression packing :
         {Imf::ZIP_COMPRESSION, Imf::PIZ_COMPRESSION, Imf::PXR24_COMPRESSION, Imf::B44_COMPRESSION,
          Imf::DWAA_COMPRESSION})
        pictures.push_back(exr(4, 4, {{"R", x}, {"G", x}, {"B", z}}, packing));
    for (std::size_t i = 0; i < pictures.size(); ++i) {
        CAPTURE(i);
        const Mesh mesh = texture_test::load(texture_test::sheet(10.0, 2), pictures[i]);
        REQUIRE(mesh.facts().textures.size() == 1);
        CHECK(mesh.facts().textures[0].state == "read");
    }
}
