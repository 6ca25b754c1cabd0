// Files that appear together or not at all. The outside references are the kernel's own answers:
// POSIX says that rename() replaces a file in one step, and what errno is when a write cannot be.

#include <doctest/doctest.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <atomic>
#include <chrono>
#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <functional>
#include <iterator>
#include <string>
#include <thread>
#include <vector>

#include "error.hpp"
#include "image/output_set.hpp"

using namespace rakelight;
namespace fs = std::filesystem;

namespace {

/// A folder of its own for each test.
class Scratch {
public:
    Scratch() {
        std::string name = (fs::temp_directory_path() / "rakelight-set-XXXXXX").string();
        REQUIRE(mkdtemp(name.data()) != nullptr);
        path = name;
    }
    ~Scratch() {
        std::error_code ignored;
        fs::remove_all(path, ignored);
    }
    fs::path path;
};

std::string content(const fs::path& path) {
    std::ifstream file(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(file), {}};
}

void put(const fs::path& path, const std::string& text) {
    std::ofstream(path, std::ios::binary) << text;
}

/// Everything in a folder, hidden files too, sorted.
std::vector<std::string> listing(const fs::path& folder) {
    std::vector<std::string> names;
    for (const auto& entry : fs::directory_iterator(folder)) {
        names.push_back(entry.path().filename().string());
    }
    std::sort(names.begin(), names.end());
    return names;
}

/// The one hidden file of a folder.
fs::path only_temporary(const fs::path& folder) {
    std::vector<std::string> hidden = listing(folder);
    std::erase_if(hidden, [](const std::string& name) { return name[0] != '.'; });
    REQUIRE(hidden.size() == 1);
    return folder / hidden[0];
}

doctest::String message(const std::function<void()>& action) {
    try {
        action();
    } catch (const Error& error) {
        CHECK(error.code() == ExitCode::not_written);
        return error.what();
    }
    return "no error";
}

/// Runs something in a child process. @return the child's number
template <class Action>
pid_t in_child(Action action) {
    const pid_t child = fork();
    REQUIRE(child >= 0);
    if (child == 0) {
        action();
        _exit(0);
    }
    return child;
}

int wait_for(pid_t child) {
    int status = 0;
    REQUIRE(waitpid(child, &status, 0) == child);
    return status;
}

using Names = std::vector<std::string>;

}  // namespace

TEST_CASE("output set: nothing is seen before commit, all after") {
    const Scratch scratch;
    const fs::path folder = scratch.path / "out" / "deep";
    put(scratch.path / "bystander", "x");
    {
        OutputSet set(folder);
        CHECK(set.folder() == folder);
        set.add("depth.png", std::string("new depth"));
        set.add("manifest.json", "{}");
        for (const std::string& name : listing(folder)) CHECK(name[0] == '.');
        set.commit({"manifest.json"});
        CHECK(listing(folder) == Names{"depth.png", "manifest.json"});
    }
    CHECK(listing(folder) == Names{"depth.png", "manifest.json"});
    CHECK(content(folder / "depth.png") == "new depth");
    CHECK(content(folder / "manifest.json") == "{}");
}

TEST_CASE("output set: bytes and empty files arrive whole") {
    const Scratch scratch;
    std::vector<std::byte> bytes(3'000'001);
    for (std::size_t i = 0; i < bytes.size(); ++i) bytes[i] = static_cast<std::byte>(i * 7 >> 3);
    OutputSet set(scratch.path);
    set.add("big", bytes);
    set.add("empty", std::string());
    set.commit();
    const std::string read = content(scratch.path / "big");
    REQUIRE(read.size() == bytes.size());
    CHECK(std::equal(read.begin(), read.end(), reinterpret_cast<const char*>(bytes.data())));
    CHECK(fs::file_size(scratch.path / "empty") == 0);
}

TEST_CASE("output set: without commit nothing stays, and nothing is touched") {
    const Scratch scratch;
    put(scratch.path / "depth.png", "old");
    {
        OutputSet set(scratch.path);
        set.add("depth.png", "new");
        set.add("other.png", "new");
        CHECK(content(scratch.path / "depth.png") == "old");
    }
    CHECK(listing(scratch.path) == Names{"depth.png"});
    CHECK(content(scratch.path / "depth.png") == "old");
}

TEST_CASE("output set: folders that it made go again when they stayed empty") {
    const Scratch scratch;
    { OutputSet set(scratch.path / "a" / "b"); }
    CHECK(listing(scratch.path).empty());
    {
        OutputSet set(scratch.path / "a" / "b" / "");
        set.add("x", "1");
    }
    CHECK(listing(scratch.path).empty());
    {
        OutputSet set(scratch.path / "a" / "b");
        put(scratch.path / "a" / "note", "somebody else's");
    }
    CHECK(listing(scratch.path) == Names{"a"});
    CHECK(listing(scratch.path / "a") == Names{"note"});
    // A folder that was there before stays, empty or not.
    fs::create_directory(scratch.path / "mine");
    { OutputSet set(scratch.path / "mine"); }
    CHECK(fs::is_directory(scratch.path / "mine"));
}

TEST_CASE("output set: the files named last are renamed last, in their order") {
    const Scratch scratch;
    OutputSet set(scratch.path);
    for (const char* name : {"manifest", "a", "proof", "b"}) set.add(name, std::string(name));
    // A watcher sees a rename as it happens; so does a set that cannot finish it. Here the last
    // one cannot: its temporary is gone, so all before it were renamed, and are taken back.
    Names temporaries = listing(scratch.path);
    REQUIRE(temporaries.size() == 4);
    for (const std::string& name : temporaries) {
        if (content(scratch.path / name) == "manifest") fs::remove(scratch.path / name);
    }
    CHECK(message([&] {
              set.commit({"proof", "absent", "manifest"});
          }) == doctest::Contains("/manifest'"));
    CHECK(listing(scratch.path).empty());

    for (const char* name : {"manifest", "a", "proof", "b"}) set.add(name, std::string(name));
    for (const std::string& name : listing(scratch.path)) {
        const std::string text = content(scratch.path / name);
        if (text == "manifest" || text == "proof") fs::remove(scratch.path / name);
    }
    // Of two that cannot be renamed the earlier one is named.
    CHECK(message([&] { set.commit({"proof", "manifest"}); }) == doctest::Contains("/proof'"));
}

TEST_CASE("output set: a commit that fails half-way puts back what was there") {
    const Scratch scratch;
    put(scratch.path / "a", "old a");
    put(scratch.path / "c", "old c");
    OutputSet set(scratch.path);
    set.add("a", "new a");
    set.add("b", "new b");
    set.add("c", "new c");
    for (const std::string& name : listing(scratch.path)) {
        if (content(scratch.path / name) == "new c") fs::remove(scratch.path / name);
    }
    const doctest::String error = message([&] { set.commit(); });
    CHECK(error == doctest::Contains((scratch.path / "c").c_str()));
    CHECK(error == doctest::Contains("removed meanwhile"));
    CHECK(listing(scratch.path) == Names{"a", "c"});
    CHECK(content(scratch.path / "a") == "old a");
    CHECK(content(scratch.path / "c") == "old c");
}

TEST_CASE("output set: may be filled and committed again") {
    const Scratch scratch;
    OutputSet set(scratch.path);
    set.add("a", "1");
    set.commit();
    set.add("a", "2");
    CHECK(content(scratch.path / "a") == "1");
    set.commit();
    set.commit();
    CHECK(content(scratch.path / "a") == "2");
    CHECK(listing(scratch.path) == Names{"a"});
}

namespace {

/// What stat() says that a rewritten file would have lost: which file it is, and when it changed.
struct Identity {
    ino_t file;
    std::int64_t changed_ns;
    bool operator==(const Identity&) const = default;
};

Identity identity(const fs::path& path) {
    struct stat status {};
    REQUIRE(::lstat(path.c_str(), &status) == 0);
    return {status.st_ino, status.st_mtim.tv_sec * 1'000'000'000 + status.st_mtim.tv_nsec};
}

/// Commits a picture, a clock's reading and what vouches for both.
void commit_three(const fs::path& folder, const std::string& picture, const std::string& clock,
                  const std::string& manifest) {
    OutputSet set(folder);
    set.add("picture", picture);
    set.add("clock", clock);
    set.add("manifest", manifest);
    set.commit({"clock", "manifest"}, {"clock"});
}

}  // namespace

TEST_CASE("output set: what is there already with the same bytes is not touched") {
    const Scratch scratch;
    const fs::path picture = scratch.path / "picture";
    const fs::path clock = scratch.path / "clock";
    const fs::path manifest = scratch.path / "manifest";
    const std::string large(200'001, 'p');  // more than is compared at a time
    commit_three(scratch.path, large, "1 s", "m");
    const Identity old_picture = identity(picture);
    const Identity old_manifest = identity(manifest);

    SUBCASE("only what is incidental, when nothing else differs") {
        commit_three(scratch.path, large, "2 s", "m");
        CHECK(identity(picture) == old_picture);
        CHECK(identity(manifest) == old_manifest);
        CHECK(content(clock) == "2 s");
    }
    SUBCASE("a picture of another last byte comes with all that tells of it") {
        commit_three(scratch.path, large.substr(1) + "q", "2 s", "m");
        CHECK(content(picture) == large.substr(1) + "q");
        CHECK(content(clock) == "2 s");
        CHECK_FALSE(identity(manifest) == old_manifest);
    }
    SUBCASE("a longer picture") {
        commit_three(scratch.path, large + "p", "2 s", "m");
        CHECK(content(picture) == large + "p");
        CHECK_FALSE(identity(manifest) == old_manifest);
    }
    SUBCASE("another manifest leaves the picture") {
        commit_three(scratch.path, large, "2 s", "n");
        CHECK(identity(picture) == old_picture);
        CHECK(content(manifest) == "n");
        CHECK(content(clock) == "2 s");
    }
    SUBCASE("a missing file comes back, an incidental one too") {
        fs::remove(clock);
        commit_three(scratch.path, large, "2 s", "m");
        CHECK(content(clock) == "2 s");
        CHECK(identity(picture) == old_picture);
        CHECK(identity(manifest) == old_manifest);
    }
    SUBCASE("a link to the same bytes is not the file") {
        fs::rename(picture, scratch.path / "elsewhere");
        fs::create_symlink("elsewhere", picture);
        commit_three(scratch.path, large, "2 s", "m");
        CHECK_FALSE(fs::is_symlink(picture));
        fs::remove(scratch.path / "elsewhere");
    }
    CHECK(listing(scratch.path) == Names{"clock", "manifest", "picture"});
}

TEST_CASE("output set: a commit that fails among files that stay puts back what changed") {
    const Scratch scratch;
    commit_three(scratch.path, "p", "1 s", "m");
    const Identity old_picture = identity(scratch.path / "picture");
    OutputSet set(scratch.path);
    set.add("picture", "p");
    set.add("clock", "2 s");
    set.add("manifest", "n");
    for (const std::string& name : listing(scratch.path)) {
        if (content(scratch.path / name) == "n") fs::remove(scratch.path / name);
    }
    CHECK(message([&] { set.commit({"manifest"}, {"clock"}); }) == doctest::Contains("/manifest'"));
    CHECK(identity(scratch.path / "picture") == old_picture);
    CHECK(content(scratch.path / "clock") == "1 s");
    CHECK(content(scratch.path / "manifest") == "m");
    CHECK(listing(scratch.path) == Names{"clock", "manifest", "picture"});
}

TEST_CASE("output set: names that cannot be") {
    const Scratch scratch;
    OutputSet set(scratch.path);
    for (const std::string& name :
         {std::string(), std::string("."), std::string(".."), std::string("a/b"),
          std::string("../x"), std::string("a\0b", 3)}) {
        CAPTURE(name);
        CHECK(message([&] { set.add(name, "x"); }) == doctest::Contains("is not a file name"));
    }
    set.add("twice", "1");
    CHECK(message([&] { set.add("twice", "2"); }) ==
          doctest::Contains("two outputs have this name"));
    fs::create_directory(scratch.path / "taken");
    CHECK(message([&] { set.add("taken", "x"); }) == doctest::Contains("a folder of this name"));
    // A name too long fails when it is renamed, with nothing left behind.
    set.add(std::string(256, 'n'), "x");
    CHECK(message([&] { set.commit(); }) == doctest::Contains("File name too long"));
    CHECK(listing(scratch.path) == Names{"taken"});
}

TEST_CASE("output set: a folder that comes into a file's way fails the whole commit") {
    const Scratch scratch;
    OutputSet set(scratch.path);
    set.add("a", "1");
    set.add("b", "2");
    fs::create_directory(scratch.path / "b");
    CHECK(message([&] { set.commit(); }) == doctest::Contains("a folder of this name"));
    CHECK_FALSE(fs::exists(scratch.path / "a"));
}

TEST_CASE("output set: folders that cannot be") {
    const Scratch scratch;
    put(scratch.path / "file", "x");
    CHECK(message([&] { OutputSet set(scratch.path / "file"); }) ==
          doctest::Contains("it is a file"));
    CHECK(message([&] { OutputSet set(scratch.path / "file" / "sub"); }) ==
          doctest::Contains("Not a directory"));
    fs::create_symlink("nowhere", scratch.path / "dangling");
    CHECK(message([&] { OutputSet set(scratch.path / "dangling"); }) ==
          doctest::Contains("not a folder"));
    CHECK(content(scratch.path / "file") == "x");
    // Nobody, not even root, makes files under /proc.
    if (fs::is_directory("/proc/self")) {
        CHECK(message([] { OutputSet set("/proc/rakelight-test"); }) ==
              doctest::Contains("/proc/rakelight"));
        CHECK(message([] {
                  OutputSet set("/proc/self");
                  set.add("depth.png", "x");
              }) == doctest::Contains("/proc/self/depth.png"));
    }
}

TEST_CASE("output set: a disk that is full leaves nothing half-written") {
    const Scratch scratch;
    put(scratch.path / "depth.png", "old");
    const std::vector<std::byte> bytes(100'000);
    doctest::String error;
    {
        OutputSet set(scratch.path / "new");
        set.add("small", "fits");
        // A limit on file size stands in for the full disk: write() comes back short, then fails.
        // Nothing is reported while it holds, for it holds for the test's own output too.
        struct rlimit before {};
        REQUIRE(getrlimit(RLIMIT_FSIZE, &before) == 0);
        struct rlimit tight = before;
        tight.rlim_cur = 10'000;
        auto* const handler = std::signal(SIGXFSZ, SIG_IGN);
        REQUIRE(setrlimit(RLIMIT_FSIZE, &tight) == 0);
        try {
            set.add("depth.png", bytes);
        } catch (const Error& caught) {
            error = caught.what();
        }
        setrlimit(RLIMIT_FSIZE, &before);
        std::signal(SIGXFSZ, handler);
        CHECK(content(only_temporary(scratch.path / "new")) == "fits");
    }
    CHECK(error == doctest::Contains("depth.png"));
    CHECK(error == doctest::Contains("File too large (after 10000 of 100000 bytes)"));
    CHECK(listing(scratch.path) == Names{"depth.png"});
}

TEST_CASE("output set: a file that failed may be added again") {
    const Scratch scratch;
    OutputSet set(scratch.path / "out");
    fs::remove(scratch.path / "out");
    put(scratch.path / "out", "in the way");
    CHECK(message([&] { set.add("a", "1"); }) == doctest::Contains("it is a file"));
    fs::remove(scratch.path / "out");
    set.add("a", "1");  // and the folder, which somebody removed, is made again
    set.commit();
    CHECK(content(scratch.path / "out" / "a") == "1");
}

TEST_CASE("output set: many threads add at once") {
    const Scratch scratch;
    OutputSet set(scratch.path);
    std::vector<std::thread> threads;
    for (int t = 0; t < 8; ++t) {
        threads.emplace_back([&set, t] {
            for (int i = 0; i < 20; ++i) {
                const std::string name = std::to_string(t) + "-" + std::to_string(i);
                set.add(name, name);
            }
        });
    }
    for (std::thread& thread : threads) thread.join();
    set.commit();
    const Names names = listing(scratch.path);
    CHECK(names.size() == 160);
    for (const std::string& name : names) CHECK(content(scratch.path / name) == name);
}

TEST_CASE("output set: what a killed process left is removed by the next one") {
    const Scratch scratch;
    put(scratch.path / "depth.png", "old");
    const int status = wait_for(in_child([&] {
        OutputSet set(scratch.path);
        set.add("depth.png", "never seen");
        std::raise(SIGKILL);
    }));
    REQUIRE(WIFSIGNALED(status));
    CHECK(content(scratch.path / "depth.png") == "old");
    CHECK(content(only_temporary(scratch.path)) == "never seen");
    { OutputSet set(scratch.path); }
    CHECK(listing(scratch.path) == Names{"depth.png"});
}

TEST_CASE("output set: the temporaries of others stay while they may be in use") {
    const Scratch scratch;
    OutputSet living(scratch.path);
    living.add("a", "1");
    put(scratch.path / ".rakelight-0badcafe-1-0.tmp", "another machine, now");
    put(scratch.path / ".rakelight-0badcafe-1-1.tmp", "another machine, long ago");
    put(scratch.path / ".rakelight-notes", "not a temporary");
    put(scratch.path / ".rakelight-x-y-z.tmp", "not a temporary either");
    const auto long_ago = fs::file_time_type::clock::now() - std::chrono::hours(25);
    for (const char* name :
         {".rakelight-0badcafe-1-1.tmp", ".rakelight-notes", ".rakelight-x-y-z.tmp"}) {
        fs::last_write_time(scratch.path / name, long_ago);
    }
    { OutputSet second(scratch.path); }
    CHECK(fs::exists(scratch.path / ".rakelight-0badcafe-1-0.tmp"));
    CHECK_FALSE(fs::exists(scratch.path / ".rakelight-0badcafe-1-1.tmp"));
    CHECK(fs::exists(scratch.path / ".rakelight-notes"));
    CHECK(fs::exists(scratch.path / ".rakelight-x-y-z.tmp"));
    living.commit();
    CHECK(content(scratch.path / "a") == "1");
}

TEST_CASE("output set: two processes in one folder never mix within a file") {
    const Scratch scratch;
    const fs::path folder = scratch.path / "shared";
    const auto writer = [&folder](char letter, std::size_t size) {
        try {
            for (int i = 0; i < 150; ++i) {
                OutputSet set(folder);
                set.add("plane", std::string(size, letter));
                set.add("manifest", std::string(1, letter));
                set.commit({"manifest"});
            }
        } catch (const std::exception&) {
            _exit(1);
        }
    };
    const pid_t first = in_child([&] { writer('a', 200'000); });
    const pid_t second = in_child([&] { writer('b', 150'001); });
    int looks = 0;
    int mixed = 0;
    int status = 0;
    while (waitpid(first, &status, WNOHANG) == 0) {
        const std::string seen = content(folder / "plane");
        if (seen.empty()) continue;  // not there yet
        ++looks;
        const std::size_t size = seen[0] == 'a' ? 200'000 : 150'001;
        mixed += seen != std::string(size, seen[0]);
    }
    CHECK(status == 0);
    CHECK(wait_for(second) == 0);
    CHECK(looks > 0);
    CHECK(mixed == 0);
    CHECK(listing(folder) == Names{"manifest", "plane"});
    // Nor do the files of one with those of the other.
    CHECK(content(folder / "manifest")[0] == content(folder / "plane")[0]);
}

TEST_CASE("replace file: new content, old permissions, nothing left beside it") {
    const Scratch scratch;
    const fs::path path = scratch.path / "scene.toml";
    replace_file(path, "one");
    CHECK(content(path) == "one");
    REQUIRE(chmod(path.c_str(), 0640) == 0);
    replace_file(path, "two, longer");
    CHECK(content(path) == "two, longer");
    struct stat status {};
    REQUIRE(stat(path.c_str(), &status) == 0);
    CHECK((status.st_mode & 07777) == 0640);
    CHECK(listing(scratch.path) == Names{"scene.toml"});
}

TEST_CASE("replace file: a reader that has the old file open keeps it whole") {
    const Scratch scratch;
    const fs::path path = scratch.path / "scene.toml";
    put(path, "old text");
    std::ifstream reader(path);
    replace_file(path, "new");
    CHECK(std::string(std::istreambuf_iterator<char>(reader), {}) == "old text");
    CHECK(content(path) == "new");
}

TEST_CASE("replace file: a symbolic link stays one") {
    const Scratch scratch;
    fs::create_directory(scratch.path / "real");
    put(scratch.path / "real" / "scene.toml", "old");
    fs::create_symlink("real/scene.toml", scratch.path / "link.toml");
    replace_file(scratch.path / "link.toml", "new");
    CHECK(fs::is_symlink(scratch.path / "link.toml"));
    CHECK(content(scratch.path / "real" / "scene.toml") == "new");
}

TEST_CASE("replace file: what cannot be replaced") {
    const Scratch scratch;
    fs::create_directory(scratch.path / "folder");
    CHECK(message([&] { replace_file(scratch.path / "folder", "x"); }) ==
          doctest::Contains("a folder"));
    CHECK(message([&] { replace_file(scratch.path / "no" / "file", "x"); }) ==
          doctest::Contains("No such file or directory"));
    // A device is not replaced by a file, whoever asks: /dev/full stays what it is.
    CHECK(message([] { replace_file("/dev/full", "x"); }) ==
          doctest::Contains("not a regular file"));
    if (geteuid() != 0) {  // root may write to any file
        put(scratch.path / "locked", "old");
        fs::permissions(scratch.path / "locked", fs::perms::owner_read);
        CHECK(message([&] { replace_file(scratch.path / "locked", "x"); }) ==
              doctest::Contains("Permission denied"));
        CHECK(content(scratch.path / "locked") == "old");
    }
    CHECK(listing(scratch.path / "folder").empty());
}

TEST_CASE("replace file: works in the current folder too") {
    const Scratch scratch;
    const fs::path before = fs::current_path();
    fs::current_path(scratch.path);
    replace_file("plain.toml", "x");
    fs::current_path(before);
    CHECK(listing(scratch.path) == Names{"plain.toml"});
}

TEST_CASE("a folder that somebody removes at any moment is named as the reason, or written whole") {
    const Scratch scratch;
    const fs::path folder = scratch.path / "out";
    std::atomic<bool> ended{false};
    std::thread remover([&] {
        std::error_code raced;
        while (!ended) fs::remove_all(folder, raced);
    });
    for (int i = 0; i < 2000; ++i) {
        try {
            OutputSet set(folder);
            set.add("a.png", "picture");
            set.add("b.json", "figures");
            set.commit();
        } catch (const Error& error) {
            CHECK(error.code() == ExitCode::not_written);
            const std::string why = error.what();
            CHECK_MESSAGE(why.find("removed meanwhile") != std::string::npos, why);
        }
    }
    ended = true;
    remover.join();
}
