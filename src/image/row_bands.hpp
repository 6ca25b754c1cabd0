#pragma once
// A loop over the rows of an image that shares its work among threads.

#include <algorithm>

#include "share_work.hpp"

namespace rakelight {

/// Calls work(first_row, end_row) for bands that together are [0, height), each row exactly once,
/// on as many threads as the machine runs at a time. Which thread takes a band is open; `work`
/// writes only what belongs to its rows and reads nothing that another band writes, so that the
/// result does not depend on it. The first exception is thrown again here, after all threads ended.
/// @param height     rows, may be 0
/// @param band_rows  rows handed out at a time, > 0
template <typename Work>
void for_row_bands(int height, int band_rows, const Work& work) {
    const int bands = (height + band_rows - 1) / band_rows;
    share_work(static_cast<std::size_t>(bands), machine_threads(), [&](std::size_t band) {
        const int row = static_cast<int>(band) * band_rows;
        work(row, std::min(row + band_rows, height));
    });
}

/// The same in bands of 16 rows.
template <typename Work>
void for_row_bands(int height, const Work& work) {
    for_row_bands(height, 16, work);
}

}  // namespace rakelight
