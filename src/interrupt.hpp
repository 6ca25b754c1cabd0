#pragma once
// SIGINT and SIGTERM as a question that the stages ask between their steps.

#include "error.hpp"

namespace rakelight {

/// Installs the handlers; the first signal asks to stop, a second one ends the process at once.
void catch_interrupts();

/// The signal that asked to stop, or 0.
int interrupt_signal() noexcept;

/// Throws Error(interrupted) or Error(terminated) when a signal asked to stop.
void stop_if_interrupted();

}  // namespace rakelight
