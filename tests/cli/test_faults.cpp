// What happens when the ground gives way: each call that changes a file fails once, or the process
// is asked to end or killed there; the disk is full, the folder read-only or removed meanwhile, the
// graphics context lost. What is demanded is the design's: "nothing half-written stays", and that
// the manifest vouches for the files beside it.

#include <linux/capability.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <csignal>
#include <fstream>
#include <functional>

#include "pictures.hpp"
#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

Setup with_faults(std::map<std::string, std::string> env) {
    Setup setup;
    setup.env = std::move(env);
    setup.env["LD_PRELOAD"] = RAKELIGHT_FAULT_SHIM;
    // A sanitizer wants to be the first library; it is soon enough as the second.
    setup.env["ASAN_OPTIONS"] = "detect_leaks=0:verify_asan_link_order=0";
    return own_folders(setup);
}

bool is_temporary(const std::string& name) {
    return contains(name, ".rakelight-");
}

Snapshot without_temporaries(Snapshot files) {
    std::erase_if(files, [](const auto& file) { return is_temporary(file.first); });
    return files;
}

// Two renders into one folder, with pictures of other sizes: the first is there before, the second
// meets the fault.
class TwoRuns {
public:
    TwoRuns() {
        write_ply(place_ / "model.ply", sphere(6, 8));
        SceneText scene;
        scene.passes = "[pass.depth]\n[pass.silhouette]\n[pass.contour]\n";
        write_file(place_ / "scene.toml", scene.text());
        REQUIRE(rakelight(words(first_px, place_ / "first")).code == 0);
        REQUIRE(rakelight(words(second_px, place_ / "second")).code == 0);
        first_ = lasting_files(place_ / "first");
        second_ = lasting_files(place_ / "second");
        REQUIRE(differences(first_, second_).size() == first_.size());
        begin();
    }

    // The folder as it is after the first run.
    void begin() const {
        fs::remove_all(out());
        fs::copy(place_ / "first", out());
    }

    fs::path out() const { return place_ / "out"; }
    fs::path operator/(const std::string& name) const { return place_ / name; }
    Words second_run() const { return words(second_px, out()); }
    Words first_run() const { return words(first_px, out()); }
    const Snapshot& second() const { return second_; }

    Snapshot now() const {
        if (!fs::exists(out())) return {};
        Snapshot files = snapshot(out());
        files.erase("timings.json");
        return files;
    }
    bool is_first() const { return differences(now(), first_).empty(); }
    bool is_second() const { return differences(now(), second_).empty(); }

    // Every file whole, of one run or the other; all of one run where a manifest vouches for them.
    void check_sound() const {
        const Snapshot files = without_temporaries(now());
        for (const auto& [name, bytes] : files) {
            CAPTURE(name);
            const bool whole = bytes == first_.at(name) || bytes == second_.at(name);
            CHECK(whole);
        }
        if (files.count("manifest.json") == 0) return;
        const bool of_one_run =
            differences(files, first_).empty() || differences(files, second_).empty();
        CHECK(of_one_run);
    }

    // How many calls a run makes that a fault can hit.
    int calls() const {
        begin();
        const Ended ended =
            rakelight(second_run(), with_faults({{"FAULT_COUNT", (place_ / "count").string()}}));
        REQUIRE(ended.code == 0);
        REQUIRE(is_second());
        const int count = std::stoi(read_file(place_ / "count"));
        REQUIRE(count > 20);  // six files that are made, written, closed, renamed
        return count;
    }

private:
    Words words(const std::string& px, const fs::path& folder) const {
        return {"render", place_ / "scene.toml",   "--quiet",   "--out",    folder.string(),
                "--set",  "image.px_per_mm=" + px, "--context", "processor"};
    }

    static constexpr const char* first_px = "4";
    static constexpr const char* second_px = "5";
    Place place_;
    Snapshot first_, second_;
};

std::map<std::string, std::string> fault(int at, const std::string& what,
                                         const std::string& value) {
    return {{"FAULT_AT", std::to_string(at)}, {what, value}};
}

}  // namespace

TEST_SUITE_BEGIN("cli.faults");

TEST_CASE("whichever call fails on a full disk, the folder holds one whole run") {
    const TwoRuns runs;
    const int calls = runs.calls();
    int refused = 0;
    for (int at = 1; at <= calls; ++at) {
        CAPTURE(at);
        runs.begin();
        const Ended ended = rakelight(
            runs.second_run(), with_faults(fault(at, "FAULT_ERRNO", std::to_string(ENOSPC))));
        if (ended.code == 0) {  // one that it can do without, such as the removal of a second name
            CHECK(differences(without_temporaries(runs.now()), runs.second()).empty());
            continue;
        }
        ++refused;
        check_refused(ended, 6, {"cannot write", "out", "No space left on device"});
        CHECK(runs.is_first());
    }
    CHECK(refused > calls / 2);
}

namespace {

struct Kills {
    int hit = 0;
    int without_manifest = 0;
};

// Kills a run at each call and has the next one tidy up.
Kills kill_at_each_call(const TwoRuns& runs, int calls, const std::function<void()>& begin) {
    Kills kills;
    for (int at = 1; at <= calls; ++at) {
        CAPTURE(at);
        begin();
        const Ended ended = rakelight(
            runs.second_run(), with_faults(fault(at, "FAULT_SIGNALS", std::to_string(SIGKILL))));
        CHECK((ended.signal == SIGKILL || ended.code == 0));
        kills.hit += ended.signal == SIGKILL;
        runs.check_sound();
        kills.without_manifest += !fs::exists(runs.out() / "manifest.json");
        REQUIRE(rakelight(runs.second_run()).code == 0);
        CHECK(runs.is_second());
    }
    return kills;
}

}  // namespace

TEST_CASE("a process killed at any call leaves whole files, and the next run tidies up") {
    const TwoRuns runs;
    const int calls = runs.calls();
    const Kills kills = kill_at_each_call(runs, calls, [&] { runs.begin(); });
    CHECK(kills.hit == calls);
    CHECK(kills.without_manifest > 0);  // the renames were hit
    CHECK(kills.without_manifest < 20);
}

TEST_CASE(
    "killed at any call in a folder that was not there, a run leaves nothing that looks done") {
    const TwoRuns runs;
    const int calls = runs.calls();
    // There is less to do, nothing to keep or to take away before: the last calls are never made.
    const Kills kills = kill_at_each_call(runs, calls, [&] { fs::remove_all(runs.out()); });
    CHECK(kills.without_manifest > calls / 2);
}

TEST_CASE("asked to end at any call, a run ends with its code: all of it, or nothing") {
    const TwoRuns runs;
    const int calls = runs.calls();
    for (const int number : {SIGINT, SIGTERM}) {
        int stopped = 0;
        for (int at = 1; at <= calls; ++at) {
            CAPTURE(number);
            CAPTURE(at);
            runs.begin();
            const Ended ended = rakelight(
                runs.second_run(), with_faults(fault(at, "FAULT_SIGNALS", std::to_string(number))));
            if (ended.code == 0) {
                CHECK(runs.is_second());
                continue;
            }
            ++stopped;
            check_refused(ended, 128 + number, {});
            CHECK(runs.is_first());
        }
        CHECK(stopped > calls / 4);
        CHECK(stopped < calls);  // what is being renamed is not stopped
    }
}

TEST_CASE("a second signal ends the process at once, but never among the renames") {
    const TwoRuns runs;
    const int calls = runs.calls();
    const std::string twice = std::to_string(SIGINT) + "," + std::to_string(SIGTERM);
    for (int at = 1; at <= calls; ++at) {
        CAPTURE(at);
        runs.begin();
        const Ended ended =
            rakelight(runs.second_run(), with_faults(fault(at, "FAULT_SIGNALS", twice)));
        const bool by_signal = ended.code == 130 || ended.code == 143;
        CHECK(by_signal);
        CHECK(fs::exists(runs.out() / "manifest.json"));
        runs.check_sound();
    }
    REQUIRE(rakelight(runs.second_run()).code == 0);
    CHECK(runs.is_second());
}

TEST_CASE("whichever of the files does not fit, none of them appears") {
    const TwoRuns runs;
    std::vector<std::uintmax_t> sizes;
    for (const auto& entry : fs::directory_iterator(runs / "second")) {
        sizes.push_back(entry.file_size());
    }
    std::sort(sizes.begin(), sizes.end());
    const auto limited = [](rlim_t bytes) {
        Setup setup;
        setup.in_child = [bytes] {
            const rlimit limit{bytes, bytes};
            ::setrlimit(RLIMIT_FSIZE, &limit);
        };
        return setup;
    };
    for (const auto size : sizes) {
        // The times in timings.json are written with more or fewer digits.
        if (size == fs::file_size(runs / "second/timings.json")) continue;
        CAPTURE(size);
        runs.begin();
        check_refused(rakelight(runs.second_run(), limited(size - 1)), 6,
                      {"cannot write", "File too large"});
        CHECK(runs.is_first());
    }
    CHECK(rakelight(runs.second_run(), limited(sizes.back() + 1000)).code == 0);
    CHECK(runs.is_second());
}

TEST_CASE("on a small disk a run fits or leaves the one before") {
    const Words in_namespace{"unshare", "-rm"};
    Words probe = in_namespace;
    probe.insert(probe.end(), {"sh", "-c", "mount -t tmpfs none /mnt"});
    if (installed("unshare").empty() || run(probe).code != 0) {
        MESSAGE("no file system may be mounted here: the small disk is left out");
        return;
    }
    const TwoRuns runs;
    // A temporary file system counts pages of 4 KiB; its files here take one to some dozens.
    const std::string script =
        "disk=$1 size=$2 after=$3; shift 3; mount -t tmpfs -o size=${size}k none \"$disk\" || exit "
        "99; cp \"$after\"/* \"$disk\" || exit 98; \"$@\"; code=$?; rm -rf \"$after\"; "
        "cp -a \"$disk\" \"$after\"; exit $code";
    std::uintmax_t pages = 0;
    for (const std::string run : {"first", "second"}) {
        for (const auto& entry : fs::directory_iterator(runs / run)) {
            pages += (entry.file_size() + 4095) / 4096;
        }
    }
    int full = 0;
    bool fitted = false;
    fs::create_directory(runs / "disk");
    for (std::uintmax_t size = pages / 2 + 1; !fitted && size < 2 * pages; size += 2) {
        CAPTURE(size);
        runs.begin();
        Words words = in_namespace;
        words.insert(words.end(), {"sh", "-c", script, "sh", runs / "disk",
                                   std::to_string(4 * size), runs.out().string()});
        Words inner = command_line(runs.second_run());
        inner[5] = runs / "disk";  // --out
        words.insert(words.end(), inner.begin(), inner.end());
        const Ended ended = run(words, own_folders());
        if (ended.code == 98) continue;  // not even the first run fits
        fitted = ended.code == 0;
        if (fitted) break;
        ++full;
        check_refused(ended, 6, {"cannot write", "disk"});
        CHECK(runs.is_first());
    }
    CHECK(fitted);
    CHECK(runs.is_second());
    CHECK(full > 0);
}

TEST_CASE("a folder in which nothing may be made ends with 6, named, and stays as it is") {
    const TwoRuns runs;
    // Root may write anywhere, unless a program is started without that privilege.
    Setup humble;
    humble.in_child = [] { ::prctl(PR_CAPBSET_DROP, CAP_DAC_OVERRIDE, 0, 0, 0); };
    ::chmod(runs.out().c_str(), 0555);
    if (run({"test", "-w", runs.out()}, humble).code == 0) {
        MESSAGE("this user may write into a read-only folder: left out");
        return;
    }
    check_refused(rakelight(runs.second_run(), humble), 6,
                  {"cannot write", runs.out().string(), "Permission denied"});
    CHECK(runs.is_first());
    Words below = runs.second_run();
    *std::find(below.begin(), below.end(), runs.out().string()) = runs.out() / "new/below";
    check_refused(rakelight(below, humble), 6, {"cannot write", "out/new", "Permission denied"});
    ::chmod(runs.out().c_str(), 0755);
    CHECK(runs.is_first());
    CHECK(rakelight(runs.second_run(), humble).code == 0);
}

TEST_CASE("an output folder that is removed meanwhile ends with 6 and is not half made again") {
    const Place place;
    write_crooked_scene(place);
    const fs::path out = place / "out";
    const auto being_written = [&] {
        std::error_code none;
        return fs::directory_iterator(out, none) != fs::directory_iterator();
    };
    Ended ended;
    for (const char* px_per_mm : {"20", "40", "80", "160"}) {
        Process process(command_line({"render", place / "scene.toml", "--out", out.string(),
                                      "--set", std::string("image.px_per_mm=") + px_per_mm}),
                        own_folders());
        if (process.wait_for(being_written)) {
            std::error_code raced;  // a file may come while the others go
            while (fs::exists(out)) fs::remove_all(out, raced);
        }
        ended = process.end();
        if (ended.code != 0) break;
    }
    check_refused(ended, 6, {"cannot write", out.string(), "removed meanwhile"});
    CHECK_FALSE(fs::exists(out));
    CHECK(rakelight({"render", place / "scene.toml", "--out", out.string()}).code == 0);
}

TEST_CASE("killed at any time of its way, import included, a run leaves a sound folder") {
    const TwoRuns runs;
    fs::create_directory(runs / "tmp");
    Setup setup;
    setup.env = {{"XDG_CACHE_HOME", runs / "cache"}, {"TMPDIR", runs / "tmp"}};
    setup = own_folders(setup);
    const auto start = std::chrono::steady_clock::now();
    REQUIRE(run(command_line(runs.second_run()), setup).code == 0);
    const auto whole = std::chrono::steady_clock::now() - start;
    int killed = 0;
    constexpr int kills = 30;
    for (int i = 0; i < kills; ++i) {
        CAPTURE(i);
        runs.begin();
        fs::remove_all(runs / "cache");  // so that it imports
        Process process(command_line(runs.second_run()), setup);
        const auto end = std::chrono::steady_clock::now() + whole * i / kills;
        process.wait_for([&] { return std::chrono::steady_clock::now() >= end; });
        process.send(SIGKILL);
        const Ended ended = process.end();
        killed += ended.signal == SIGKILL;
        runs.check_sound();
        REQUIRE(run(command_line(runs.second_run()), setup).code == 0);
        CHECK(runs.is_second());
    }
    CHECK(killed > 0);
}

TEST_CASE("a lock that is killed at any call leaves the old scene or the new one") {
    const Place place;
    write_ply(place / "model.ply", sphere(6, 8));
    const std::string scene = place / "scene.toml";
    const std::string before = SceneText{}.text();
    write_file(scene, before);
    REQUIRE(rakelight({"lock", scene}).code == 0);
    const std::string after = read_file(scene);
    REQUIRE(after != before);
    int kept = 0;
    bool done = false;
    for (int at = 1; !done; ++at) {
        CAPTURE(at);
        REQUIRE(at < 50);
        write_file(scene, before);
        const Ended ended = rakelight(
            {"lock", scene}, with_faults(fault(at, "FAULT_SIGNALS", std::to_string(SIGKILL))));
        done = ended.code == 0;  // there are no more calls
        const std::string now = read_file(scene);
        const bool old_or_new = now == before || now == after;
        CHECK(old_or_new);
        if (now == after) continue;  // locked
        ++kept;
        REQUIRE(rakelight({"lock", scene}).code == 0);
        CHECK(read_file(scene) == after);
        CHECK(snapshot(place.folder()).size() == 2);  // no temporary
    }
    CHECK(kept >= 3);  // made, written, closed
}

TEST_CASE("a graphics context that is lost ends with 5 and a clear line, and nothing is written") {
    const Place place;
    write_crooked_scene(place);
    const fs::path out = place / "out";
    const Words words{"render",     place / "scene.toml", "--quiet", "--out",
                      out.string(), "--context",          "egl"};
    int lost = 0;
    for (int at = 1;; ++at) {
        CAPTURE(at);
        REQUIRE(at < 500);
        const Ended ended = rakelight(words, with_faults({{"FAULT_LOST_AT", std::to_string(at)}}));
        if (ended.code == 0) break;
        ++lost;
        check_refused(ended, 5, {"graphics context was lost", "--context processor"});
        CHECK_FALSE(fs::exists(out));
    }
    CHECK(lost >= 3);  // textures are made, pictures read back
    CHECK(fs::exists(out / "manifest.json"));
}

TEST_SUITE_END();
