#pragma once
// Private to batch/: the files of [relief.proof].

#include <vector>

#include "batch/relief_files.hpp"

namespace rakelight {

/// What the scene asks for; empty without [relief.proof].
std::vector<ReliefFile> relief_proofs(const Scene& scene);

/// What making them takes at the most beyond what making the relief took, in bytes.
std::uint64_t relief_proofs_bytes(const ProofSettings& proof);

}  // namespace rakelight
