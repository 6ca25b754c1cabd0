#pragma once
// The command line as a whole: commands in, exit code out.

namespace rakelight {

/// Runs one command. Never throws; every failure is one message on stderr and its exit code.
int run_command(int argc, char** argv);

}  // namespace rakelight
