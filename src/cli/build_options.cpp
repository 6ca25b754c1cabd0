#include "cli/build_options.hpp"

#include <CLI/CLI.hpp>
#include <string>
#include <system_error>

#include "error.hpp"
#include "image/output_set.hpp"

namespace rakelight {
namespace fs = std::filesystem;
namespace {

// A stamp vouches for all scenes at once: it is made of what each of them is made of.
std::vector<MadeOf> of_stamp(const fs::path& stamp, const std::vector<MadeOf>& rules) {
    MadeOf all{stamp, {}};
    for (const MadeOf& rule : rules)
        all.inputs.insert(all.inputs.end(), rule.inputs.begin(), rule.inputs.end());
    return {all};
}

}  // namespace

void remove_stamp(const BuildOptions& options) {
    const fs::path& stamp = options.stamp;
    if (stamp.empty()) return;
    std::error_code fault;
    const fs::file_status status = fs::symlink_status(stamp, fault);
    if (status.type() == fs::file_type::not_found) return;
    if (status.type() != fs::file_type::regular)
        throw Error(ExitCode::not_written, "cannot write '" + stamp.string() +
                                               "': what has this name is not a regular file");
    if (!fs::remove(stamp, fault) && fault)
        throw Error(ExitCode::not_written,
                    "cannot replace '" + stamp.string() + "': " + fault.message());
}

void add_build_options(CLI::App& command, BuildOptions& options) {
    command
        .add_option("--depfile", options.depfile,
                    "Write what the outputs are made of as a rule for Make or Ninja; its target is "
                    "the stamp, or else the file that vouches for the outputs")
        ->type_name("FILE");
    command
        .add_option("--stamp", options.stamp,
                    "Remove this file first, and write it when all outputs are there")
        ->type_name("FILE");
}

BuildNotes::BuildNotes(const BuildOptions& options, std::vector<MadeOf> rules) : options_(options) {
    if (!options_.depfile.empty()) {
        if (!options_.stamp.empty()) rules = of_stamp(options_.stamp, rules);
        depfile_ = depfile_text(rules);
    }
}

void BuildNotes::write() const {
    if (!options_.depfile.empty()) replace_file(options_.depfile, depfile_);
    if (!options_.stamp.empty()) replace_file(options_.stamp, "");
}

}  // namespace rakelight
