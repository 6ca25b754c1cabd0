#include <doctest/doctest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <chrono>
#include <csignal>
#include <stdexcept>
#include <system_error>
#include <thread>

#include "error.hpp"
#include "interrupt.hpp"
#include "model/confined/child.hpp"
#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;

namespace {

#ifdef __SANITIZE_ADDRESS__
constexpr bool limits_memory = false;
#else
constexpr bool limits_memory = true;
#endif

void no_child_is_left() {
    CHECK(::waitpid(-1, nullptr, WNOHANG) == -1);
    CHECK(errno == ECHILD);
}

}  // namespace

TEST_CASE("what becomes of the child is told apart") {
    ImportLimits limits;
    const auto end = [&](const std::function<void()>& job) {
        const ChildReport report = run_in_child(limits, {}, job);
        no_child_is_left();
        return report;
    };
    CHECK(end([] {}).end == ChildEnd::done);

    const ChildReport refused = end([] { throw Error(ExitCode::bad_model, "why"); });
    CHECK(refused.end == ChildEnd::refused);
    CHECK(refused.text == "why");

    CHECK(end([] { throw std::logic_error("x"); }).end == ChildEnd::fault);
    CHECK(end([] { throw Error(ExitCode::own_fault, "x"); }).end == ChildEnd::fault);
    CHECK(end([] { throw 1; }).end == ChildEnd::fault);
    CHECK(end([] { throw std::bad_alloc(); }).end == ChildEnd::out_of_memory);
    CHECK(end([] { throw std::system_error(std::make_error_code(std::errc::io_error)); }).end ==
          ChildEnd::not_written);

    // The names are those of the signals that the child sends itself (POSIX).
    CHECK(end([] { std::abort(); }).text == "SIGABRT");
    const ChildReport crash = end([] { std::raise(SIGSEGV); });
    CHECK(crash.end == ChildEnd::crashed);
    CHECK(crash.text == "SIGSEGV");
    CHECK(end([] { ::_exit(3); }).end == ChildEnd::crashed);
    CHECK(end([] { ::_exit(0); }).end == ChildEnd::crashed);
    CHECK(end([] { std::raise(SIGKILL); }).end == ChildEnd::out_of_memory);
}

TEST_CASE("a long message arrives whole") {
    const std::string text(300'000, 'x');  // more than a pipe holds
    CHECK(run_in_child({}, {}, [&] { throw Error(ExitCode::bad_model, text); }).text == text);
}

TEST_CASE("limits end the child") {
    SUBCASE("CPU time") {
        ImportLimits limits;
        limits.cpu_s = 1;
        CHECK(run_in_child(limits, {}, [] {
                  for (volatile unsigned i = 0;;) i = i + 1;
              }).end == ChildEnd::cpu_limit);
    }
    SUBCASE("wall time") {
        ImportLimits limits;
        limits.wall_s = 1;
        const auto start = std::chrono::steady_clock::now();
        CHECK(run_in_child(limits, {}, [] { ::pause(); }).end == ChildEnd::wall_limit);
        CHECK(std::chrono::steady_clock::now() - start < std::chrono::seconds(5));
    }
    SUBCASE("memory") {
        if (!limits_memory) return;
        ImportLimits limits;
        limits.memory_mib = 256;
        CHECK(run_in_child(limits, {}, [] {
                  std::vector<char> v(std::size_t{512} << 20, '\1');
              }).end == ChildEnd::out_of_memory);
    }
    SUBCASE("what it writes to stdout and stderr leads nowhere") {
        CHECK(run_in_child({}, {}, [] {
                  if (::isatty(1) != 0 || ::write(1, "noise", 5) != 5) throw 1;
              }).end == ChildEnd::done);
    }
    no_child_is_left();
}

TEST_CASE("a model that exceeds a limit is refused, and the message says which") {
    const TemporaryFolder folder;
    write(folder / "model.ply", as_binary_ply(sphere(1.0, 7)));
    LoadOptions options = no_cache();
    SUBCASE("wall time") {
        options.limits.wall_s = 0;
        CHECK(bad_model_message(folder / "model.ply", options).find("took longer than 0 s") !=
              std::string::npos);
    }
    SUBCASE("memory") {
        if (!limits_memory) return;
        options.limits.memory_mib = 1;
        const std::string message = bad_model_message(folder / "model.ply", options);
        CAPTURE(message);
        // By what this process has left on its heap, the child comes to its counts or not.
        const bool reckoned = message.find("expected at most 1 MiB") != std::string::npos;
        CHECK((reckoned || message.find("ran out of memory (limit 1 MiB)") != std::string::npos));
    }
    no_child_is_left();
}

// A process of its own, because a caught signal stays caught.
TEST_CASE("SIGTERM to the parent ends the child and is passed on as its own error") {
    const pid_t parent = ::fork();
    if (parent == 0) {
        catch_interrupts();
        try {
            run_in_child({}, {}, [] { ::pause(); });
        } catch (const Error& e) {
            ::_exit(static_cast<int>(e.code()));
        }
        ::_exit(0);
    }
    std::this_thread::sleep_for(std::chrono::milliseconds(150));
    ::kill(parent, SIGTERM);
    int status = 0;
    REQUIRE(::waitpid(parent, &status, 0) == parent);
    CHECK(WIFEXITED(status));
    CHECK(WEXITSTATUS(status) == 143);
}
