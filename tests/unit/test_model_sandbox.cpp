// What a confined import cannot do, tried from inside of it. Where the kernel lacks a means the
// case says so and is left out: docs/reliability.md.

#include <doctest/doctest.h>

#include <arpa/inet.h>
#include <fcntl.h>
#include <sys/mman.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <csignal>
#include <functional>
#include <thread>

#include "error.hpp"
#include "model/confined/child.hpp"
#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;

namespace {

// What the job answers, in words; "killed" where the kernel ended it for asking.
std::string answer(const ChildReach& reach, const std::function<std::string()>& job) {
    const ChildReport report =
        run_in_child({}, reach, [&] { throw Error(ExitCode::bad_model, job()); });
    if (report.end == ChildEnd::forbidden) return "killed";
    REQUIRE(report.end == ChildEnd::refused);
    return report.text;
}

std::string opened(const std::filesystem::path& path, int flags) {
    const int file = ::open(path.c_str(), flags, 0600);
    if (file >= 0) ::close(file);
    return file >= 0 ? "opened" : "not opened";
}

bool files_confined() {
    if (import_confinement().landlock_version > 0) return true;
    MESSAGE("this kernel has no Landlock");
    return false;
}

bool calls_filtered() {
    if (import_confinement().calls) return true;
    MESSAGE("this kernel does not filter system calls");
    return false;
}

}  // namespace

TEST_CASE("sandbox: what the kernel has is used") {
    // Numbers and flag: Linux, Documentation/userspace-api/landlock.rst and seccomp_filter.rst.
    constexpr long create_ruleset = 444;
    const long version = ::syscall(create_ruleset, nullptr, 0, 1);
    CHECK(import_confinement().landlock_version == std::max(version, 0L));
    CHECK(import_confinement().calls == (::access("/proc/sys/kernel/seccomp", F_OK) == 0));
}

TEST_CASE("sandbox: the model's folder can be read, with all below it, and nothing else") {
    const TemporaryFolder model, elsewhere;
    write(model / "a.ply", "a");
    std::filesystem::create_directory(model / "pictures");
    write(model / "pictures/b.png", "b");
    write(elsewhere / "secret", "s");
    std::filesystem::create_symlink(elsewhere / "secret", model / "link");
    const ChildReach reach{{model.path()}, -1};
    const auto read = [&](const std::filesystem::path& path) {
        return answer(reach, [&] { return opened(path, O_RDONLY); });
    };
    CHECK(read(model / "a.ply") == "opened");
    CHECK(read(model / "pictures/b.png") == "opened");
    if (!files_confined()) return;
    CHECK(read(elsewhere / "secret") == "not opened");
    CHECK(read(model / "link") == "not opened");
    CHECK(read(model.path() / ".." / elsewhere.path().filename() / "secret") == "not opened");
    CHECK(read("/etc/passwd") == "not opened");
    CHECK(read("/proc/self/environ") == "not opened");
}

TEST_CASE("sandbox: nothing is written but what was handed over") {
    const TemporaryFolder folder;
    write(folder / "there", "before");
    const int output = ::open((folder / "output").c_str(), O_RDWR | O_CREAT, 0600);
    REQUIRE(output >= 0);
    const ChildReach reach{{folder.path()}, output};
    CHECK(answer(reach, [&] { return ::write(output, "x", 1) == 1 ? "written" : "not"; }) ==
          "written");
    ::close(output);
    if (!calls_filtered()) return;
    CHECK(answer(reach, [&] { return opened(folder / "there", O_WRONLY | O_TRUNC); }) ==
          "not opened");
    CHECK(answer(reach, [&] { return opened(folder / "new", O_WRONLY | O_CREAT); }) ==
          "not opened");
    CHECK(answer(reach, [&] {
              return ::unlink((folder / "there").c_str()) == 0 ? "gone" : "still there";
          }) == "still there");
    CHECK(answer(reach, [&] {
              return ::rename((folder / "there").c_str(), (folder / "b").c_str()) == 0 ? "moved"
                                                                                       : "";
          }).empty());
    CHECK(read(folder / "there") == "before");
    CHECK_FALSE(std::filesystem::exists(folder / "new"));
}

TEST_CASE("sandbox: no network, no other process, no program") {
    if (!calls_filtered()) return;
    CHECK(answer({}, [] { return ::socket(AF_INET, SOCK_STREAM, 0) < 0 ? "none" : "a socket"; }) ==
          "killed");
    CHECK(answer({}, [] { return ::socket(AF_UNIX, SOCK_STREAM, 0) < 0 ? "none" : "a socket"; }) ==
          "killed");
    CHECK(answer({}, [] {
              const pid_t child = ::fork();
              if (child == 0) ::_exit(0);
              return child < 0 ? "none" : "a process";
          }) == "killed");
    CHECK(answer({}, [] {
              char name[] = "/bin/true";
              char* words[] = {name, nullptr};
              ::execv(name, words);
              return "no program";
          }) == "killed");
    CHECK(answer({}, [] { return ::kill(::getppid(), 0) == 0 ? "reached" : "not reached"; }) ==
          "killed");
}

TEST_CASE("sandbox: no memory becomes a program") {
    if (!calls_filtered()) return;
    CHECK(answer({}, [] {
              void* page = ::mmap(nullptr, 4096, PROT_READ | PROT_WRITE | PROT_EXEC,
                                  MAP_PRIVATE | MAP_ANONYMOUS, -1, 0);
              return page == MAP_FAILED ? "none" : "a program's";
          }) == "none");
}

TEST_CASE("sandbox: what an import needs is there: threads, memory, time, what it was given") {
    int sum = 0;
    const ChildReport report = run_in_child({}, {}, [&] {
        std::thread other([&] { sum = 41; });
        other.join();
        const std::vector<char> large(std::size_t{64} << 20, 1);
        sum += large[large.size() / 2];
        const auto before = std::chrono::steady_clock::now();
        std::this_thread::sleep_for(std::chrono::milliseconds(1));
        if (sum != 42 || std::chrono::steady_clock::now() <= before) throw std::bad_alloc();
    });
    CHECK(report.end == ChildEnd::done);
}

TEST_CASE("sandbox: descriptors of this process are not the child's") {
    const TemporaryFolder folder;
    write(folder / "open", "s");
    const int kept = ::open((folder / "open").c_str(), O_RDONLY);
    REQUIRE(kept >= 0);
    CHECK(answer({}, [&] {
              char c = 0;
              return ::pread(kept, &c, 1, 0) == 1 ? "read" : "not read";
          }) == "not read");
    ::close(kept);
}

TEST_CASE("a glTF whose buffer lies outside its folder is refused, unless that is allowed") {
    const TemporaryFolder folder;
    std::filesystem::create_directory(folder / "model");
    write(folder / "buffer.bin", gltf_buffer(tetrahedron()));
    write(folder / "model/a.gltf", as_gltf(tetrahedron(), "../buffer.bin"));
    LoadOptions options = no_cache();
    options.reading.outside_files = true;
    CHECK(load_model(folder / "model/a.gltf", options).indices().size() == 12);
    if (!files_confined()) return;
    const std::string message = bad_model_message(folder / "model/a.gltf");
    CAPTURE(message);
    CHECK(message.find("buffer.bin") != std::string::npos);
}
