#pragma once

#include <stdexcept>
#include <string>

namespace rakelight {

/// What the process ends with. Scripts rely on these numbers; they never change meaning.
enum class ExitCode : int {
    all_written = 0,
    own_fault = 1,         ///< a fault of the program itself
    wrong_use = 2,         ///< wrong use of the command line
    bad_scene = 3,         ///< scene file unreadable or wrong
    bad_model = 4,         ///< model missing, unreadable, empty, or its import died
    no_graphics = 5,       ///< no graphics context, or one that cannot do the job
    not_written = 6,       ///< an output could not be written
    unusable_picture = 7,  ///< nothing in frame, or values clip in a fixed range
    interrupted = 130,     ///< SIGINT
    terminated = 143,      ///< SIGTERM
};

/// A failure that somebody outside can act on: a file, a user, a driver. The message says what
/// was found, where, what was expected, and what to do. Broken invariants of ours are asserted
/// instead and never become an Error.
class Error : public std::runtime_error {
public:
    Error(ExitCode code, const std::string& message) : std::runtime_error(message), code_(code) {}
    ExitCode code() const noexcept { return code_; }

private:
    ExitCode code_;
};

}  // namespace rakelight
