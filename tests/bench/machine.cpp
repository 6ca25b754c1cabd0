#include "machine.hpp"

#include <assimp/version.h>
#include <embree3/rtcore_config.h>
#include <png.h>
#include <sys/utsname.h>
#include <unistd.h>
#include <zlib.h>

#include <cstdlib>
#include <fstream>
#include <thread>

#include "version.hpp"

namespace bench {
namespace {

// The value of the first line that begins with the key, after its colon.
std::string value_of(const char* file, const std::string& key) {
    std::ifstream lines(file);
    for (std::string line; std::getline(lines, line);) {
        if (line.rfind(key, 0) != 0) continue;
        const std::size_t at = line.find_first_not_of(" \t", line.find(':') + 1);
        return at == std::string::npos ? "" : line.substr(at);
    }
    return "unknown";
}

std::string libraries() {
    return "Assimp " + std::to_string(aiGetVersionMajor()) + "." +
           std::to_string(aiGetVersionMinor()) + "." + std::to_string(aiGetVersionPatch()) +
           ", Embree " RTC_VERSION_STRING ", libpng " + png_get_libpng_ver(nullptr) + ", zlib " +
           zlibVersion();
}

}  // namespace

Json machine_facts() {
    utsname system{};
    uname(&system);
    double load[1] = {0.0};
    getloadavg(load, 1);
    const Json graphics = Json::parse(command_output({RAKELIGHT_COMMAND, "graphics", "--json"}));
    const std::string renderer = graphics["renderer"];
    const double gib = static_cast<double>(sysconf(_SC_PHYS_PAGES)) *
                       static_cast<double>(sysconf(_SC_PAGE_SIZE)) / (1024.0 * 1024.0 * 1024.0);
    return {{"rakelight", rakelight::version},
            {"cores", std::thread::hardware_concurrency()},
            {"processor", value_of("/proc/cpuinfo", "model name")},
            {"memory_gib", gib},
            {"system", std::string(system.sysname) + " " + system.release + " " + system.machine},
            {"compiler", "GCC-compatible " __VERSION__},
            {"libraries", libraries()},
            {"drawn_by",
             graphics["context"].get<std::string>() + (renderer.empty() ? "" : ", " + renderer)},
            {"load", load[0]}};
}

}  // namespace bench
