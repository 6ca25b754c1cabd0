#pragma once
// Private to render/: textures on their way into the processor's memory. Reads go through pixel
// buffers, so that the GPU copies while both sides work on, and into memory that stays mapped where
// the context has that (OpenGL 4.4), so that nothing is copied twice or allocated anew.

#include <cstddef>
#include <memory>
#include <span>
#include <vector>

#include "render/maps.hpp"

namespace rakelight {

class ReadBack {
public:
    ReadBack();
    ~ReadBack();
    ReadBack(const ReadBack&) = delete;
    ReadBack& operator=(const ReadBack&) = delete;

    /// Asks for a whole texture as floats, rows in the texture's order, without waiting.
    /// @param format  GL_RED, GL_RG or GL_RGBA, the texture's own, so that nothing is converted
    /// @returns the read's number, for finish
    std::size_t start(const Texture& texture, GLenum format);
    std::size_t start(const Rows& rows);
    std::size_t start(const Drawn& drawn);

    /// Waits for a read. What it gives is valid until clear.
    std::span<const float> finish(std::size_t read);

    /// Forgets all reads; their memory serves the next ones.
    void clear();

private:
    struct Slot;
    Slot& next_slot(std::size_t bytes);
    std::size_t started(Slot& slot);

    std::vector<std::unique_ptr<Slot>> slots_;
    std::size_t used_ = 0;
};

}  // namespace rakelight
