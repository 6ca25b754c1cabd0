#pragma once
// Which of the file's own normals are sound. Private to model/.

#include "model/repair/surface.hpp"

namespace rakelight {

/// What of the file's normals can be used.
struct FileNormals {
    /// Per piece: 1, or -1 where most of its normals point against the windings (a file whose
    /// windings are inside out, say); then all of the piece's normals are turned.
    Array<float> signs;
    Array<std::uint8_t> sound;  ///< per corner; empty: none is
    std::uint64_t broken = 0;   ///< corners whose normal is NaN, zero, or against its face
    std::uint64_t missing = 0;  ///< corners that the file gives no normal

    bool any() const { return !sound.empty(); }
};

FileNormals judge_file_normals(const Soup& soup, const Surface& surface);

}  // namespace rakelight
