#pragma once
// Which system calls an import may make. Linux only. Private to model/.

namespace rakelight {

/// Has the kernel answer, from now on and for good, no system call of this process but those that
/// reading a file and computing need. Returns whether the kernel does so. PR_SET_NO_NEW_PRIVS must
/// be set.
bool filter_calls() noexcept;

}  // namespace rakelight
