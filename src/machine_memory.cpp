// Linux: Documentation/filesystems/proc.rst (meminfo), Documentation/admin-guide/cgroup-v2.rst and
// cgroup-v1/memory.rst.

#include "machine_memory.hpp"

#include <unistd.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <optional>
#include <string>

namespace rakelight {
namespace {

namespace fs = std::filesystem;

constexpr std::uint64_t no_limit = std::uint64_t{1} << 62;

/// The number that a file begins with; "max" is none.
std::optional<std::uint64_t> number_in(const fs::path& file) {
    std::ifstream in(file);
    std::uint64_t number = 0;
    if (in >> number) return number;
    return std::nullopt;
}

/// The number behind a word at the start of a line.
std::optional<std::uint64_t> number_after(const fs::path& file, const std::string& word) {
    std::ifstream in(file);
    for (std::string line; std::getline(in, line);) {
        if (line.compare(0, word.size(), word) == 0) return std::stoull(line.substr(word.size()));
    }
    return std::nullopt;
}

struct GroupFiles {
    const char *limit, *used, *unused_cache;
};

/// What a group has left; files that it only keeps in memory are given up when need be.
std::uint64_t left_in(const fs::path& group, const GroupFiles& files) {
    const auto limit = number_in(group / files.limit);
    const auto used = number_in(group / files.used);
    if (!limit || !used) return no_limit;
    const std::uint64_t spare = number_after(group / "memory.stat", files.unused_cache).value_or(0);
    const std::uint64_t kept = *used - std::min(*used, spare);
    return *limit - std::min(*limit, kept);
}

/// A group's limit holds for all groups below it.
std::uint64_t least_left(const fs::path& root, fs::path group, const GroupFiles& files) {
    std::uint64_t least = left_in(root, files);
    for (group = group.relative_path(); !group.empty(); group = group.parent_path())
        least = std::min(least, left_in(root / group, files));
    return least;
}

std::uint64_t left_in_groups() {
    std::uint64_t least = no_limit;
    std::ifstream in("/proc/self/cgroup");  // lines of number:controllers:path
    for (std::string line; std::getline(in, line);) {
        const auto first = line.find(':'), second = line.find(':', first + 1);
        if (second == std::string::npos) continue;
        const std::string controllers = line.substr(first + 1, second - first - 1);
        const fs::path group = line.substr(second + 1);
        if (controllers.empty())
            least = std::min(least, least_left("/sys/fs/cgroup", group,
                                               {"memory.max", "memory.current", "inactive_file "}));
        if (("," + controllers + ",").find(",memory,") != std::string::npos)
            least = std::min(least, least_left("/sys/fs/cgroup/memory", group,
                                               {"memory.limit_in_bytes", "memory.usage_in_bytes",
                                                "total_inactive_file "}));
    }
    return least;
}

std::uint64_t physical_bytes() {
    const long pages = ::sysconf(_SC_PHYS_PAGES), page = ::sysconf(_SC_PAGESIZE);
    return pages > 0 && page > 0 ? std::uint64_t(pages) * std::uint64_t(page) : no_limit;
}

}  // namespace

std::uint64_t available_memory_mib() {
    const auto available_kib = number_after("/proc/meminfo", "MemAvailable:");
    const std::uint64_t bytes = available_kib ? *available_kib << 10 : physical_bytes();
    return std::min(bytes, left_in_groups()) >> 20;
}

}  // namespace rakelight
