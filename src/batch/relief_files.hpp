#pragma once
// Private to batch/: files of the finished relief that are no pass: heights as floats, and proofs.

#include <cstddef>
#include <functional>
#include <string>
#include <vector>

#include "batch/relief_work.hpp"
#include "scene/scene.hpp"

namespace rakelight {

struct ReliefFile {
    std::string file;
    std::string meaning;  ///< one line, for the manifest
    /// Its bytes; after the last row. May run beside another's.
    std::function<std::vector<std::byte>(ReliefWork&)> bytes;
};

/// What the scene asks for; empty without [relief].
/// @param proofs  false: without those that are made only to be looked at
std::vector<ReliefFile> relief_files(const Scene& scene, bool proofs);

}  // namespace rakelight
