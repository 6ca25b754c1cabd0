#pragma once
// The codes of the passes that the command wrote.

#include "image/plane.hpp"
#include "subject.hpp"

namespace bench {

struct WrittenPass {
    std::string name;
    std::uintmax_t file_bytes = 0;
    rakelight::Image16 codes;
};

/// All 16-bit PNGs of a folder, by name. Throws std::runtime_error.
std::vector<WrittenPass> written_passes(const fs::path& folder);

}  // namespace bench
