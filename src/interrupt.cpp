#include "interrupt.hpp"

#include <csignal>

namespace rakelight {
namespace {

volatile std::sig_atomic_t pending_signal = 0;  // a handler can reach nothing but a global

extern "C" void remember_signal(int signal_number) {
    if (pending_signal != 0) std::_Exit(128 + signal_number);
    pending_signal = signal_number;
}

}  // namespace

void catch_interrupts() {
    std::signal(SIGINT, remember_signal);
    std::signal(SIGTERM, remember_signal);
}

int interrupt_signal() noexcept {
    return pending_signal;
}

void stop_if_interrupted() {
    if (pending_signal == SIGINT) throw Error(ExitCode::interrupted, "interrupted");
    if (pending_signal == SIGTERM) throw Error(ExitCode::terminated, "asked to terminate");
}

}  // namespace rakelight
