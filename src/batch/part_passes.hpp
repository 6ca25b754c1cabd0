#pragma once
// Private to batch/: the depth of one part alone.

#include <memory>
#include <string>

#include "batch/passes.hpp"

namespace rakelight {

struct PartOfPicture {
    std::string name;       ///< as the model has it
    std::string file_stem;  ///< "part-horn"
    std::size_t index;      ///< of its planes
};

/// @param depth  its margins are taken, and nothing else
std::unique_ptr<Pass> make_part_depth_pass(const PartOfPicture& part, const DepthPass& depth,
                                           const PassPlace& place);

}  // namespace rakelight
