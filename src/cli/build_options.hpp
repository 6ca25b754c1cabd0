#pragma once
// Options for those who run a command from a build system.

#include <filesystem>
#include <vector>

#include "batch/depfile.hpp"

namespace CLI {
class App;
}

namespace rakelight {

/// --depfile and --stamp.
struct BuildOptions {
    std::filesystem::path depfile;  ///< empty: none
    std::filesystem::path stamp;    ///< empty: none
};
void add_build_options(CLI::App& command, BuildOptions& options);

/// Takes away the stamp of an earlier run, which vouches for nothing while this one is under way.
/// Call it before anything else, so that no failure leaves it. Throws Error(not_written).
void remove_stamp(const BuildOptions& options);

/// What is told to build systems when all is written.
class BuildNotes {
public:
    /// @param rules  one per scene: the file that vouches for its others, and what it is made of
    /// Throws Error(wrong_use) when a name cannot be written.
    BuildNotes(const BuildOptions& options, std::vector<MadeOf> rules);

    /// After all outputs: the depfile, then the stamp. Throws Error(not_written).
    void write() const;

private:
    BuildOptions options_;
    std::string depfile_;
};

}  // namespace rakelight
