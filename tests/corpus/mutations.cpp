// corpus_mutations COUNT SEED TABLE MODELS: model files of the corpus with bytes spoilt, through
// the whole command. Whatever they hold, it ends by itself with a known exit code and a line that
// says why, and leaves all of its outputs or none. Says how many ended how. The same seed makes the
// same files.

#include <algorithm>
#include <atomic>
#include <cstdio>
#include <fstream>
#include <iostream>
#include <iterator>
#include <map>
#include <mutex>
#include <random>
#include <thread>

#define DOCTEST_CONFIG_IMPLEMENT  // what cli_support asserts with, outside of any test case
#include "support.hpp"
#include "table.hpp"

namespace {

namespace fs = std::filesystem;
using cli_test::Ended;
using Draw = std::mt19937_64;

constexpr int skipped = 77;
constexpr std::uintmax_t largest_bytes = 200'000;  // larger ones would take the time of many

// Those that come out whole as they are.
std::vector<fs::path> list_files(const fs::path& table, const fs::path& models) {
    std::vector<fs::path> files;
    for (const auto& [name, row] : corpus::read_table(table)) {
        const fs::path file = models / name;
        if (row.verdict == "rendered" && fs::exists(file) && fs::file_size(file) <= largest_bytes)
            files.push_back(file);
    }
    return files;
}

// What may be needed with it: buffers, materials, pictures.
void copy_siblings(const fs::path& file, const fs::path& folder) {
    std::uintmax_t left = 1'000'000;
    for (const auto& entry : fs::directory_iterator(file.parent_path())) {
        if (!entry.is_regular_file() || entry.path() == file || entry.file_size() > left) continue;
        left -= entry.file_size();
        fs::copy_file(entry.path(), folder / entry.path().filename());
    }
}

std::string read(const fs::path& file) {
    std::ifstream in(file, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

std::size_t below(Draw& draw, std::size_t count) {
    return static_cast<std::size_t>(draw() % std::max<std::size_t>(count, 1));
}

// Numbers that readers stumble over, as bytes and as text.
void put_extreme(std::string& bytes, std::size_t at, Draw& draw) {
    static const std::vector<std::string> extremes{std::string(4, '\xFF'),
                                                   std::string(4, '\0'),
                                                   std::string("\xFF\xFF\xFF\x7F", 4),
                                                   std::string("\x00\x00\xC0\x7F", 4),
                                                   std::string("\x00\x00\x80\x7F", 4),
                                                   "-1",
                                                   "99999999999",
                                                   "1e39",
                                                   "nan",
                                                   "0",
                                                   "4294967296"};
    const std::string& what = extremes[below(draw, extremes.size())];
    bytes.replace(at, std::min(what.size(), bytes.size() - at), what);
}

void spoil_once(std::string& bytes, const std::string& other, Draw& draw) {
    const std::size_t at = below(draw, bytes.size());
    const std::size_t length = 1 + below(draw, 64);
    switch (below(draw, 6)) {
        case 0:
            bytes[at] = static_cast<char>(bytes[at] ^ (1 << below(draw, 8)));
            break;
        case 1:
            bytes[at] = static_cast<char>(draw());
            break;
        case 2:
            bytes.erase(at, length);
            break;
        case 3:
            bytes.insert(at, bytes.substr(below(draw, bytes.size()), length));
            break;
        case 4:
            put_extreme(bytes, at, draw);
            break;
        default:
            bytes.replace(at, length, other.substr(below(draw, other.size()), length));
    }
    if (bytes.empty()) bytes = "x";
}

std::string spoilt(std::string bytes, const std::string& other, Draw& draw) {
    for (std::size_t i = 1 + below(draw, 4); i > 0; --i) spoil_once(bytes, other, draw);
    if (below(draw, 8) == 0) bytes.resize(1 + below(draw, bytes.size()));
    return bytes;
}

void write_scene(const fs::path& scene, const fs::path& model) {
    std::ofstream(scene) << "[blank]\nshape = \"rectangle\"\nwidth_mm = 30.0\nheight_mm = 30.0\n"
                         << "[model]\nfile = '" << model.string() << "'\n"
                         << "[pose]\nyaw_deg = 25\npitch_deg = 12\n[image]\npx_per_mm = 2\n"
                         << "[pass.depth]\n[pass.silhouette]\n";
}

/// How it ended, in a word or two; what must not happen starts with "FAULT".
std::string kind_of(const Ended& ended, const fs::path& out) {
    const auto says = [&](const char* words) { return cli_test::contains(ended.err, words); };
    if (ended.timed_out) return "FAULT: it did not end";
    if (ended.signal != 0) return "FAULT: signal " + std::to_string(ended.signal);
    if (ended.code == 0)
        return fs::exists(out / "manifest.json") ? "rendered" : "FAULT: no manifest";
    if (fs::exists(out)) return "FAULT: outputs after a failure";
    if (!says("error: ")) return "FAULT: no message";
    if (ended.code == 7) return "nothing in frame";
    if (ended.code != 4) return "FAULT: exit code " + std::to_string(ended.code);
    if (says("its import crashed")) return "its import crashed, contained";
    if (says("asked the system for something")) return "its import was stopped by the call filter";
    if (says("ran out of memory")) return "memory limit";
    if (says("of CPU time") || says("took longer than")) return "time limit";
    return "refused with its reason";
}

struct Run {
    std::string kind;
    Ended ended;
};

Run try_one(const std::vector<fs::path>& files, std::uint64_t seed) {
    Draw draw(seed);
    const fs::path& file = files[below(draw, files.size())];
    const cli_test::Place place;
    copy_siblings(file, place.folder());
    const fs::path model = place / file.filename().string();
    std::ofstream(model, std::ios::binary)
        << spoilt(read(file), read(files[below(draw, files.size())]), draw);
    write_scene(place / "scene.toml", model);
    cli_test::Setup setup;
    setup.timeout_s = 60.0;
    Run run;
    run.ended = cli_test::rakelight(
        {"render", (place / "scene.toml").string(), "--out", (place / "out").string(), "--no-proof",
         "--no-cache", "--context", "processor", "--import-memory-mib", "1024", "--import-cpu-s",
         "10", "--import-wall-s", "40"},
        setup);
    run.kind = kind_of(run.ended, place / "out");
    fs::remove_all(place.folder());
    return run;
}

int run_all(std::uint64_t count, std::uint64_t seed, const fs::path& table,
            const fs::path& models) {
    if (!fs::exists(models)) {
        std::cout << "skipped: " << models.string() << " is not there\n";
        return skipped;
    }
    cli_test::root_folder();  // made before there are threads
    const std::vector<fs::path> files = list_files(table, models);
    std::map<std::string, int> kinds;
    std::atomic<std::uint64_t> next{0};
    std::mutex mutex;
    const auto work = [&] {
        for (std::uint64_t i; (i = next++) < count;) {
            const Run run = try_one(files, seed * 1'000'003 + i);
            const std::lock_guard lock(mutex);
            ++kinds[run.kind];
            if (run.kind.starts_with("FAULT"))
                std::cout << "run " << i << ": " << run.kind << "\n" << run.ended.err;
        }
    };
    std::vector<std::thread> threads(std::max(2U, std::thread::hardware_concurrency()));
    for (auto& thread : threads) thread = std::thread(work);
    for (auto& thread : threads) thread.join();
    int faults = 0;
    for (const auto& [kind, times] : kinds) {
        std::cout << times << "  " << kind << "\n";
        if (kind.starts_with("FAULT")) faults += times;
    }
    const bool left = !fs::is_empty(cli_test::root_folder() / "tmp");
    if (left) std::cout << "something is left in the temporary folder\n";
    std::cout << count << " files of " << files.size() << ", " << faults << " faults\n";
    return faults == 0 && !left ? 0 : 1;
}

}  // namespace

int main(int count, char** words) {
    if (count != 5) {
        std::fprintf(stderr, "use: corpus_mutations COUNT SEED TABLE MODELS\n");
        return 2;
    }
    return run_all(std::stoull(words[1]), std::stoull(words[2]), words[3], words[4]);
}
