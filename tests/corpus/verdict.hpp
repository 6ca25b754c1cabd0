#pragma once
// What the command makes of one model.

#include <filesystem>
#include <string>
#include <vector>

#include "table.hpp"

namespace corpus {

struct Verdict {
    Row row;
    std::vector<std::string> faults;  ///< what no model may make the command do
};

/// Inspects and renders a model. Safe to call from several threads.
/// @param folder  an empty one, for the scene and the pictures
Verdict judge(const std::filesystem::path& models, const std::string& file,
              const std::filesystem::path& folder);

}  // namespace corpus
