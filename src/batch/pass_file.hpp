#pragma once
// Where a pass goes: its PNG, and its panel on the proof sheet.

#include <memory>
#include <optional>
#include <span>

#include "batch/picture.hpp"
#include "framing/camera.hpp"
#include "image/area_reduction.hpp"
#include "image/output_set.hpp"
#include "image/png.hpp"

namespace rakelight {

/// What all passes of a scene share.
struct PassPlace {
    OutputSet& outputs;
    const ImageGrid& grid;
    bool proof = true;
};

/// Codes go in row by row; the file is opened with the first of them, so that a pass that knows its
/// numbers only at the end can wait.
class PassFile {
public:
    explicit PassFile(const PassPlace& place) : place_(place) {}

    /// @param picture  complete but for its statistics when the first rows come
    /// @param codes    whole rows, channels interleaved
    void add_rows(const Picture& picture, std::span<const std::uint16_t> codes);
    /// After the last row.
    void close();
    /// The picture made small, when a proof is wanted.
    std::optional<Image16> panel() const;

private:
    void open(const Picture& picture);

    PassPlace place_;
    std::unique_ptr<OutputSet::File> file_;
    std::optional<PngStream> png_;
    std::optional<AreaReduction> reduction_;
};

}  // namespace rakelight
