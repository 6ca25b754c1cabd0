// A filter of seccomp's (Linux: Documentation/userspace-api/seccomp_filter.rst) written out by
// hand: it is short, and needs no memory, so that a child under a tight limit is confined too.

#include "model/confined/call_filter.hpp"

#ifdef __linux__

#include <fcntl.h>
#include <linux/audit.h>
#include <linux/filter.h>
#include <linux/seccomp.h>
#include <sched.h>
#include <sys/ioctl.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <array>
#include <bit>
#include <cerrno>
#include <cstddef>
#include <cstdint>

namespace rakelight {
namespace {

#if defined(__x86_64__)
constexpr std::uint32_t machine = AUDIT_ARCH_X86_64;
#elif defined(__aarch64__)
constexpr std::uint32_t machine = AUDIT_ARCH_AARCH64;
#elif defined(__riscv) && __riscv_xlen == 64
constexpr std::uint32_t machine = AUDIT_ARCH_RISCV64;
#else
constexpr std::uint32_t machine = 0;  // the calls' arguments lie elsewhere, or nobody tried
#endif

constexpr std::uint32_t allow = SECCOMP_RET_ALLOW;
constexpr std::uint32_t fail_with(int error) {
    return SECCOMP_RET_ERRNO | static_cast<std::uint32_t>(error);
}

// Numbers of calls that only some machines have.
#ifndef SYS_open
constexpr int SYS_open = -1;
#endif

// clang-format off
// Memory, threads, time, signals to itself, and files that are open.
constexpr std::array allowed_calls{
    SYS_brk, SYS_munmap, SYS_mremap, SYS_madvise, SYS_mincore, SYS_msync, SYS_exit,
    SYS_exit_group, SYS_futex, SYS_set_robust_list, SYS_get_robust_list, SYS_rseq, SYS_membarrier,
    SYS_set_tid_address, SYS_sched_yield, SYS_sched_getaffinity, SYS_getcpu, SYS_gettid,
    SYS_getpid, SYS_getppid, SYS_getuid, SYS_geteuid, SYS_getgid, SYS_getegid, SYS_clock_gettime,
    SYS_clock_getres, SYS_clock_nanosleep, SYS_nanosleep, SYS_gettimeofday, SYS_getrusage,
    SYS_times, SYS_getrandom, SYS_uname, SYS_sysinfo, SYS_restart_syscall, SYS_rt_sigaction,
    SYS_rt_sigprocmask, SYS_rt_sigreturn, SYS_rt_sigsuspend, SYS_rt_sigtimedwait, SYS_sigaltstack,
    SYS_ppoll, SYS_pselect6, SYS_read, SYS_pread64, SYS_readv, SYS_preadv, SYS_write,
    SYS_pwrite64, SYS_writev, SYS_pwritev, SYS_lseek, SYS_close, SYS_dup, SYS_dup3, SYS_fstat,
    SYS_newfstatat, SYS_statx, SYS_statfs, SYS_fstatfs, SYS_faccessat, SYS_readlinkat,
    SYS_getdents64, SYS_getcwd, SYS_fadvise64, SYS_readahead,
    SYS_pipe2,  // a sanitizer tries with it whether memory can be read; it leads nowhere
#ifdef SYS_faccessat2
    SYS_faccessat2,
#endif
#ifdef SYS_stat  // the older calls, where a machine has them
    SYS_stat, SYS_lstat, SYS_access, SYS_readlink, SYS_poll, SYS_select, SYS_pause, SYS_dup2, SYS_pipe,
    SYS_time,
#endif
};

// What no import does, whatever its file holds: other processes and their memory, programs,
// sockets, and the ways into the kernel's less travelled parts.
constexpr std::array deadly_calls{
    SYS_execve, SYS_execveat, SYS_ptrace, SYS_process_vm_readv, SYS_process_vm_writev, SYS_tkill,
    SYS_socket, SYS_socketpair, SYS_connect, SYS_bind, SYS_sendto, SYS_sendmsg, SYS_unshare,
    SYS_setns, SYS_mount, SYS_umount2, SYS_chroot, SYS_pivot_root, SYS_bpf, SYS_perf_event_open,
    SYS_userfaultfd, SYS_io_uring_setup, SYS_keyctl, SYS_add_key, SYS_request_key,
    SYS_open_by_handle_at, SYS_init_module, SYS_finit_module, SYS_kexec_load, SYS_reboot,
    SYS_pidfd_open, SYS_pidfd_send_signal,
#ifdef SYS_fork
    SYS_fork, SYS_vfork,
#endif
};
// clang-format on

/// Allows a call where the masked argument has that value.
struct Condition {
    long call;
    unsigned argument;  ///< counted from 0
    std::uint64_t mask, value;
    std::uint32_t otherwise;
};

/// The program that the kernel runs at every call. It falls through from rule to rule; what none
/// has decided fails as on a kernel that lacks the call, which the C library has an answer to.
class Filter {
public:
    explicit Filter(std::uint32_t kill) {
        load(offsetof(seccomp_data, arch));
        add(BPF_JMP | BPF_JEQ | BPF_K, machine, 1, 0);
        add(BPF_RET | BPF_K, kill);
        load(offsetof(seccomp_data, nr));
        for (const long call : allowed_calls) decide(call, allow);
        for (const long call : deadly_calls) decide(call, kill);
    }

    void decide(long call, std::uint32_t verdict) {
        add(BPF_JMP | BPF_JEQ | BPF_K, static_cast<std::uint32_t>(call), 0, 1);
        add(BPF_RET | BPF_K, verdict);
    }

    void decide(const Condition& c) {
        // Each half: load, mask, compare; a half that differs jumps to the last line.
        add(BPF_JMP | BPF_JEQ | BPF_K, static_cast<std::uint32_t>(c.call), 0, 8);
        for (const unsigned half : {0u, 1u}) {
            load(offsetof(seccomp_data, args) + 8 * c.argument + 4 * half);
            const unsigned shift =
                (half == 0) == (std::endian::native == std::endian::little) ? 0 : 32;
            add(BPF_ALU | BPF_AND | BPF_K, static_cast<std::uint32_t>(c.mask >> shift));
            add(BPF_JMP | BPF_JEQ | BPF_K, static_cast<std::uint32_t>(c.value >> shift), 0,
                half == 0 ? 4 : 1);
        }
        add(BPF_RET | BPF_K, allow);
        add(BPF_RET | BPF_K, c.otherwise);
    }

    /// Whether the kernel took it.
    bool install() {
        add(BPF_RET | BPF_K, fail_with(ENOSYS));
        sock_fprog program{static_cast<unsigned short>(count_), lines_.data()};
        const auto set = [&](unsigned flags) {
            return ::syscall(SYS_seccomp, SECCOMP_SET_MODE_FILTER, flags, &program) == 0;
        };
        // The flag spares what older kernels do to a filtered process against leaks between
        // neighbours in one processor, at a cost to all that it computes.
        return set(SECCOMP_FILTER_FLAG_SPEC_ALLOW) || set(0);
    }

private:
    void load(std::size_t offset) {
        add(BPF_LD | BPF_W | BPF_ABS, static_cast<std::uint32_t>(offset));
    }
    void add(int code, std::uint32_t k, unsigned if_true = 0, unsigned if_false = 0) {
        lines_.at(count_++) = {static_cast<std::uint16_t>(code), static_cast<std::uint8_t>(if_true),
                               static_cast<std::uint8_t>(if_false), k};
    }

    std::array<sock_filter, 400> lines_{};
    std::size_t count_ = 0;
};

std::uint32_t kill_verdict() {
    std::uint32_t verdict = SECCOMP_RET_KILL_PROCESS;
    const bool known = ::syscall(SYS_seccomp, SECCOMP_GET_ACTION_AVAIL, 0, &verdict) == 0;
    return known ? verdict : SECCOMP_RET_TRAP;  // before Linux 4.14: SIGSYS, which ends it too
}

void add_conditions(Filter& filter, std::uint32_t kill) {
    const auto own = static_cast<std::uint32_t>(::getpid());
    constexpr std::uint64_t all = ~std::uint64_t{0}, low = 0xFFFFFFFF;
    constexpr std::uint64_t writes = O_ACCMODE | O_CREAT | O_TRUNC | O_APPEND;
    constexpr std::uint64_t other_process = CLONE_NEWNS | CLONE_NEWUTS | CLONE_NEWIPC |
                                            CLONE_NEWUSER | CLONE_NEWPID | CLONE_NEWNET |
                                            CLONE_NEWCGROUP;
    const std::array conditions{
        Condition{SYS_openat, 2, writes, O_RDONLY, fail_with(EACCES)},
        Condition{SYS_open, 1, writes, O_RDONLY, fail_with(EACCES)},
        // A thread of this process. The newer clone3 has its flags in memory, where no filter sees
        // them; without it the C library does with this one.
        Condition{SYS_clone, 0, CLONE_THREAD | other_process, CLONE_THREAD, kill},
        Condition{SYS_tgkill, 0, low, own, kill},
        Condition{SYS_kill, 0, low, own, kill},
        // No memory becomes a program.
        Condition{SYS_mmap, 2, PROT_EXEC, 0, fail_with(EACCES)},
        Condition{SYS_mprotect, 2, PROT_EXEC, 0, fail_with(EACCES)},
        // What is asked of open files: whether it is a terminal, their flags.
        Condition{SYS_ioctl, 1, low, TCGETS, fail_with(ENOTTY)},
        Condition{SYS_fcntl, 1, low & ~std::uint64_t{F_GETFD | F_SETFD | F_GETFL}, 0,
                  fail_with(EPERM)},
        Condition{SYS_prctl, 0, low, PR_SET_NAME, fail_with(EINVAL)},
        // Limits may be read.
        Condition{SYS_prlimit64, 2, all, 0, fail_with(EPERM)},
    };
    for (const Condition& condition : conditions) filter.decide(condition);
}

}  // namespace

bool filter_calls() noexcept {
    if (machine == 0) return false;
    const std::uint32_t kill = kill_verdict();
    Filter filter(kill);
    add_conditions(filter, kill);
    return filter.install();
}

}  // namespace rakelight

#endif
