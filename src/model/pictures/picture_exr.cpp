// OpenEXR, in one thread: the library's pool has none unless it is asked for some.

#include <ImfChannelList.h>
#include <ImfFrameBuffer.h>
#include <ImfHeader.h>
#include <ImfIO.h>
#include <ImfInputFile.h>
#include <ImfStandardAttributes.h>
#include <ImfTileDescription.h>
#include <ImfVersion.h>

#include <algorithm>
#include <cstring>
#include <initializer_list>
#include <optional>

#include "model/pictures/picture_texels.hpp"

namespace rakelight {
namespace {

class MemoryStream : public Imf::IStream {
public:
    explicit MemoryStream(PictureBytes bytes) : Imf::IStream("picture"), bytes_(bytes) {}
    bool read(char to[], int count) override {
        const auto size = static_cast<std::uint64_t>(std::max(count, 0));
        const PictureBytes part = part_of(bytes_, at_, size);
        if (size > 0) std::memcpy(to, part.data(), size);
        at_ += size;
        return at_ < bytes_.size();
    }
    std::uint64_t tellg() override { return at_; }
    void seekg(std::uint64_t at) override { at_ = at; }

private:
    PictureBytes bytes_;
    std::uint64_t at_ = 0;
};

/// Which channels are taken, in the order of `channels`.
struct Taken {
    Channels channels;
    std::vector<std::string> names;
};

std::string quoted_names(const Imf::ChannelList& list) {
    std::string text;
    int count = 0;
    for (auto i = list.begin(); i != list.end(); ++i) {
        if (++count > 12) return text + ", ...";
        text += (text.empty() ? "\"" : ", \"") + std::string(i.name()).substr(0, 60) + "\"";
    }
    return text.empty() ? "none" : text;
}

/// The channels' names as those of a layer: "normals." in "normals.X".
std::string layer_of(const Imf::ChannelList& list) {
    const std::string first = list.begin() != list.end() ? list.begin().name() : "";
    const std::string layer = first.substr(0, first.rfind('.') + 1);
    for (auto i = list.begin(); i != list.end(); ++i)
        if (!std::string(i.name()).starts_with(layer)) return {};
    return layer;
}

Taken taken_from(const Imf::ChannelList& list) {
    const std::string layer = layer_of(list);
    const auto all = [&](std::initializer_list<const char*> names) {
        std::vector<std::string> found;
        for (const char* name : names) {
            if (list.findChannel(layer + name) == nullptr) return std::vector<std::string>();
            found.push_back(layer + name);
        }
        return found;
    };
    const auto take = [&](Channels channels, std::initializer_list<const char*> names) {
        return Taken{channels, all(names)};
    };
    const bool has_chroma = list.findChannel(layer + "RY") != nullptr;
    for (const Taken& t :
         {take(Channels::rgba, {"R", "G", "B", "A"}), take(Channels::rgb, {"R", "G", "B"}),
          take(Channels::rgb, {"X", "Y", "Z"}), take(Channels::rgb, {"x", "y", "z"}),
          take(Channels::red_green, {"R", "G"}), take(Channels::red_green, {"X", "Y"}),
          take(Channels::grey_alpha, {"Y", "A"}), take(Channels::grey, {"Y"})})
        if (!t.names.empty() && !has_chroma) return t;
    if (list.begin() != list.end() && ++list.begin() == list.end())
        return {Channels::grey, {list.begin().name()}};
    throw UnreadablePicture("its channels are " + quoted_names(list) +
                            "; expected R, G, B, or X, Y, Z, or R, G, or Y, or a single one; save "
                            "it with these");
}

void check_header(const Imf::Header& header, const Taken& taken) {
    const Imath::Box2i &data = header.dataWindow(), &shown = header.displayWindow();
    const auto side = [](int low, int high) {
        return static_cast<std::uint64_t>(std::max<std::int64_t>(0, std::int64_t{high} - low + 1));
    };
    check_picture_size(side(data.min.x, data.max.x), side(data.min.y, data.max.y));
    if (header.hasTileDescription()) {
        const Imf::TileDescription& tile = header.tileDescription();
        check_picture_size(tile.xSize, tile.ySize);
    }
    if (data != shown)
        throw UnreadablePicture("its data window is " +
                                std::to_string(side(data.min.x, data.max.x)) + " x " +
                                std::to_string(side(data.min.y, data.max.y)) +
                                " and not the display window, which is " +
                                std::to_string(side(shown.min.x, shown.max.x)) + " x " +
                                std::to_string(side(shown.min.y, shown.max.y)) +
                                "; expected a picture without overscan or crop; save it whole");
    for (const std::string& name : taken.names) {
        const Imf::Channel& channel = header.channels()[name];
        if (channel.xSampling == 1 && channel.ySampling == 1 && channel.type != Imf::UINT) continue;
        throw UnreadablePicture("its channel \"" + name.substr(0, 60) + "\" has " +
                                (channel.type == Imf::UINT ? "whole numbers" : "fewer texels") +
                                "; expected halves or floats for each texel; save it so");
    }
}

Imf::Header header_of(PictureBytes bytes) {
    MemoryStream stream(bytes);
    part_of(bytes, 0, 8);
    int version = static_cast<int>(number_at(bytes, 4));
    if (Imf::isNonImage(version))
        throw UnreadablePicture("it is a deep OpenEXR picture; expected a flat one; save it flat");
    stream.seekg(8);
    Imf::Header header;
    header.readFrom(stream, version);
    return header;
}

PictureFile read(PictureBytes bytes) {
    const Imf::Header header = header_of(bytes);
    const Taken taken = taken_from(header.channels());
    check_header(header, taken);
    const Imath::Box2i window = header.dataWindow();
    FloatTexels texels;
    texels.width = static_cast<std::uint32_t>(window.max.x - window.min.x + 1);
    texels.height = static_cast<std::uint32_t>(window.max.y - window.min.y + 1);
    texels.channels = taken.channels;
    const std::size_t count = taken.names.size();
    texels.values.resize(std::size_t{texels.width} * texels.height * count);
    MemoryStream stream(bytes);
    Imf::InputFile file(stream, 0);
    Imf::FrameBuffer buffer;
    for (std::size_t c = 0; c < count; ++c)
        buffer.insert(taken.names[c], Imf::Slice::Make(Imf::FLOAT, texels.values.data() + c, window,
                                                       count * sizeof(float),
                                                       count * sizeof(float) * texels.width));
    file.setFrameBuffer(buffer);
    file.readPixels(window.min.y, window.max.y);
    PictureFile picture = picture_from_floats(texels);
    // Colours of OpenEXR are multiplied by their alpha.
    divide_by_alpha(picture);
    return picture;
}

}  // namespace

PictureFile read_exr_picture(PictureBytes bytes) {
    try {
        return read(bytes);
    } catch (const UnreadablePicture&) {
        throw;
    } catch (const std::bad_alloc&) {
        throw;
    } catch (const std::exception& reason) {
        throw UnreadablePicture("it is an OpenEXR file that cannot be read (" +
                                std::string(reason.what()) + "); save it again");
    }
}

}  // namespace rakelight
