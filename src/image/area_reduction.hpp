#pragma once
// A picture made smaller by area averaging, row by row as it comes.

#include <cstdint>
#include <span>
#include <vector>

#include "image/plane.hpp"

namespace rakelight {

struct PixelSize {
    int width = 0;
    int height = 0;
};

/// The size at which the longer side is at most `longer_px`, the aspect kept; never enlarged.
PixelSize reduced_size(int width, int height, int longer_px);

/// Averages what it is given over the pixels of a smaller picture, each by the share of its area.
class AreaReduction {
public:
    /// @param size  at most width x height
    AreaReduction(int width, int height, int channels, PixelSize size);

    /// @param codes  whole rows from the top, channels interleaved
    void add_rows(std::span<const std::uint16_t> codes);
    void add_rows(std::span<const float> values);

    /// After the last row: means of codes or of values, channels interleaved.
    const std::vector<float>& values() const { return small_; }
    /// The same of codes, rounded.
    Image16 image() const;

private:
    // The values that one averaged value covers, the outermost ones in part.
    struct Run {
        int first = 0, last = 0;                      ///< both included
        float first_share = 1.0F, last_share = 1.0F;  ///< of their areas; the same if there is one
        float weight = 1.0F;                          ///< 1 / the area covered

        float share(int k) const {
            return k == first ? first_share : k == last ? last_share : 1.0F;
        }
    };
    static std::vector<Run> runs(int count, int wanted);
    template <typename Value>
    void average_rows(std::span<const Value> values);
    template <typename Value>
    void average_row(const Value* values);

    int width_;
    int channels_;
    PixelSize size_;
    std::vector<Run> columns_;
    std::vector<Run> rows_;
    std::vector<float> narrow_;  ///< the latest row, averaged along x
    std::vector<float> small_;
    int next_row_ = 0;          ///< of the large picture
    std::size_t next_run_ = 0;  ///< the first small row that is not complete
};

}  // namespace rakelight
