#pragma once
// What is made from a picture while its rows come.

#include <vector>

#include "framing/blank_masks.hpp"
#include "render/renderer.hpp"

namespace rakelight {

/// Some rows of the picture.
struct PictureRows {
    const RenderedPlanes& planes;
    const std::vector<BlankMask>& masks;  ///< of the same rows
    int first_row = 0;                    ///< of the picture
};

/// Takes the rows of a picture from the top, each once. May run beside other takers.
class RowTaker {
public:
    RowTaker() = default;
    virtual ~RowTaker() = default;
    RowTaker(const RowTaker&) = delete;
    RowTaker& operator=(const RowTaker&) = delete;
    virtual void add(const PictureRows& rows) = 0;
};

}  // namespace rakelight
