#pragma once
// Work in a child process with limits: whatever it does, this process goes on. Private to model/.

#include <functional>
#include <string>

#include "model/confined/sandbox.hpp"
#include "model/load.hpp"

namespace rakelight {

enum class ChildEnd {
    done,           ///< the job returned
    refused,        ///< the job threw Error(bad_model): text is its message
    not_written,    ///< the job threw std::system_error: text is its message
    fault,          ///< the job threw anything else: text is its message
    out_of_memory,  ///< the job threw std::bad_alloc, or the system killed the child
    forbidden,      ///< a system call that no import needs ended the child
    crashed,        ///< a signal ended the child: text names it ("SIGSEGV"), or it just left
    cpu_limit,
    wall_limit,
};

struct ChildReport {
    ChildEnd end = ChildEnd::fault;
    std::string text;
    Confinement confinement{};  ///< when the job returned
};

/// Runs the job in a forked child whose standard streams lead nowhere, confined to its reach, as
/// far as the system can. The child ends without running destructors or flushing this process's
/// streams.
/// Throws Error(interrupted/terminated) after ending the child when a signal asked this process to
/// stop, and Error(own_fault) when the system gives no process.
ChildReport run_in_child(const ImportLimits& limits, const ChildReach& reach,
                         const std::function<void()>& job);

}  // namespace rakelight
