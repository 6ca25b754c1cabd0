#pragma once
// The manifest: every number that is needed to read the passes, in JSON. Nothing in it depends on
// the clock, the folder or the load of the machine; timings stand in a file of their own.

#include <string>

#include "batch/job.hpp"

namespace rakelight {

/// The version of the manifest's form; it changes when a key changes its meaning or goes away.
inline constexpr int manifest_version = 1;

std::string manifest_text(const PreparedScene& prepared, const std::vector<Picture>& pictures,
                          const VisibleSubject& visible, const GraphicsFacts& graphics,
                          const std::vector<std::string>& warnings);

std::string timings_text(const PreparedScene& prepared, const StepTimes& times);

}  // namespace rakelight
