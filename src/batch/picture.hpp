#pragma once
// A pass as it is written: all that is needed to read its codes back.

#include <cstdint>
#include <string>
#include <utility>
#include <vector>

namespace rakelight {

/// A named number of an encoding, with its unit in the name: {"near_mm", -4.2}.
using NamedNumber = std::pair<std::string, double>;

struct Picture {
    std::string name;  ///< "depth", "part-horn", "blank-rim"
    std::string file;  ///< "depth.png"
    int channels = 1;
    std::string meaning;                  ///< of a value, one line
    std::string encoding;                 ///< the formula from value to code and back, one line
    std::vector<NamedNumber> numbers;     ///< the formula's constants and its worst error
    std::vector<NamedNumber> statistics;  ///< over the visible subject
    std::vector<NamedNumber> figures;     ///< what else the pass has measured; often none
    std::uint64_t clipped = 0;
    bool clipping_allowed = false;
    std::vector<std::string> warnings;  ///< in words, without the pass's name
    std::string enough;  ///< the fixed range that would clip nothing, as a scene writes it
};

/// Throws Error(unusable_picture) when a fixed range clips and the scene does not allow it, with
/// the count and the range that would hold everything. Adds a warning where it is allowed.
void refuse_clipping(const std::vector<Picture>& pictures, std::vector<std::string>& warnings);

}  // namespace rakelight
