#include "model/confined/sandbox.hpp"

#ifdef __linux__
#include <fcntl.h>
#include <sys/prctl.h>
#include <sys/syscall.h>
#include <unistd.h>

#include <cstddef>
#include <cstdint>

#include "model/confined/call_filter.hpp"
#include "model/confined/file_handle.hpp"
#endif

namespace rakelight {

#ifdef __linux__

namespace {

// Landlock's interface (Linux: Documentation/userspace-api/landlock.rst), spelled out here because
// the header of a system may be older than its kernel.
namespace landlock {

struct Rules {  // landlock_ruleset_attr; what a kernel does not know must be 0 or left out
    std::uint64_t files = 0;
    std::uint64_t network = 0;
    std::uint64_t scopes = 0;
};

struct [[gnu::packed]] FileRule {  // landlock_path_beneath_attr
    std::uint64_t allowed;
    std::int32_t folder;
};

#ifdef SYS_landlock_create_ruleset
constexpr long create_ruleset = SYS_landlock_create_ruleset, add_rule = SYS_landlock_add_rule,
               restrict_self = SYS_landlock_restrict_self;
#else  // one number on all machines
constexpr long create_ruleset = 444, add_rule = 445, restrict_self = 446;
#endif
constexpr std::uint64_t read_file = 1 << 2, read_folder = 1 << 3;
constexpr int rule_for_path_beneath = 1;
constexpr std::uint32_t ask_version = 1;

/// All that the kernel's version can forbid.
Rules all_rules(int version) {
    Rules rules;
    rules.files = (1 << 13) - 1;               // version 1: execute to make_sym
    if (version >= 2) rules.files |= 1 << 13;  // link and rename across folders
    if (version >= 3) rules.files |= 1 << 14;  // truncate
    if (version >= 5) rules.files |= 1 << 15;  // ioctl of devices
    if (version >= 4) rules.network = 1 | 2;   // bind and connect TCP
    if (version >= 6) rules.scopes = 1 | 2;    // abstract UNIX sockets and signals outside
    return rules;
}

std::size_t rules_size(int version) {
    if (version >= 6) return sizeof(Rules);
    return version >= 4 ? offsetof(Rules, scopes) : offsetof(Rules, network);
}

int version() {
    const long answer = ::syscall(create_ruleset, nullptr, 0, ask_version);
    return answer > 0 ? static_cast<int>(answer) : 0;
}

}  // namespace landlock

void allow_reading(int rules, const std::filesystem::path& path) {
    const FileHandle place(::open(path.c_str(), O_PATH | O_CLOEXEC));
    if (!place) return;  // whoever opens it will hear why
    landlock::FileRule rule{landlock::read_file | landlock::read_folder, place.get()};
    const auto add = [&] {
        return ::syscall(landlock::add_rule, rules, landlock::rule_for_path_beneath, &rule, 0);
    };
    if (add() == 0) return;
    rule.allowed = landlock::read_file;  // all that can be said of what is no folder
    add();
}

/// Landlock's version; 0 where the kernel has none or would not have it.
int confine_files(const ChildReach& reach) {
    const int version = landlock::version();
    if (version == 0) return 0;
    const landlock::Rules all = landlock::all_rules(version);
    const FileHandle rules(static_cast<int>(
        ::syscall(landlock::create_ruleset, &all, landlock::rules_size(version), 0)));
    if (!rules) return 0;
    for (const std::filesystem::path& path : reach.readable) allow_reading(rules.get(), path);
    return ::syscall(landlock::restrict_self, rules.get(), 0) == 0 ? version : 0;
}

}  // namespace

Confinement confine_this_process(const ChildReach& reach) noexcept {
    // Without it only a privileged process may confine itself; with it no program that it ran would
    // have more rights than it has.
    if (::prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) != 0) return {};
    Confinement done;
    done.landlock_version = confine_files(reach);
    done.calls = filter_calls();
    return done;
}

#else

Confinement confine_this_process(const ChildReach&) noexcept {
    return {};
}

#endif

ChildReach reach_of_model(const std::filesystem::path& file, bool outside_files, int output) {
    if (outside_files) return {{"/"}, output};
    const std::filesystem::path absolute = std::filesystem::absolute(file);
    return {{absolute.parent_path(), absolute}, output};
}

}  // namespace rakelight
