#include "model/import_bytes.hpp"

#include <sys/resource.h>

#include <limits>
#include <string>

#include "error.hpp"
#include "share_work.hpp"

namespace rakelight {

std::uint64_t spare_bytes() {
    constexpr std::uint64_t arenas_mib = 64, stack_mib = 9;
    return (arenas_mib + stack_mib * machine_threads()) << 20;
}

std::uint64_t import_limit_bytes() {
    std::uint64_t least = std::numeric_limits<std::uint64_t>::max();
    rlimit limit{};
    if (::getrlimit(RLIMIT_AS, &limit) == 0 && limit.rlim_cur != RLIM_INFINITY)
        least = limit.rlim_cur;
    if (::getrlimit(RLIMIT_DATA, &limit) == 0 && limit.rlim_cur != RLIM_INFINITY)
        least = std::min<std::uint64_t>(
            least, limit.rlim_cur - std::min<std::uint64_t>(limit.rlim_cur, spare_bytes()));
    return least;
}

void check_room_for(const SurfaceSize& size, bool normals) {
    const std::uint64_t bytes = surface_bytes(size, normals), limit = import_limit_bytes();
    if (bytes <= limit) return;
    throw Error(
        ExitCode::bad_model,
        "its " + std::to_string(size.triangles) + " triangles of " + std::to_string(size.vertices) +
            " vertices, with all places that are no copies, may take up to " +
            std::to_string(bytes >> 20) + " MiB; expected at most " + std::to_string(limit >> 20) +
            " MiB (--memory, --import-memory-mib); simplify the model, or allow more");
}

}  // namespace rakelight
