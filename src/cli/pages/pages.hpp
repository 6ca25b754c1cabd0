#pragma once
// Man pages and shell completions as text. No clock and no order of addresses is in them: the same
// tree gives the same bytes.

#include <string>

#include "cli/pages/facts.hpp"

namespace rakelight::pages {

/// The heading of every man page.
struct PageHead {
    std::string version;  ///< "0.1.0"
    std::string date;     ///< "2026-11-25", of the version
};

/// rakelight.1, in man(7) macros.
std::string program_page(const ProgramFacts& facts, const PageHead& head);

/// rakelight-NAME.1, in man(7) macros.
std::string command_page(const CommandFacts& command, const ProgramFacts& facts,
                         const PageHead& head);

/// Bash 4 or newer; needs no other file of completions.
std::string bash_completion(const ProgramFacts& facts);
/// For a folder of zsh's fpath, as _rakelight.
std::string zsh_completion(const ProgramFacts& facts);
std::string fish_completion(const ProgramFacts& facts);

/// `words` with `separator` between.
std::string joined(const std::vector<std::string>& words, const std::string& separator);

}  // namespace rakelight::pages
