#include <doctest/doctest.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cstdlib>
#include <cstring>
#include <optional>

#include "error.hpp"
#include "model/cache.hpp"
#include "model/hash.hpp"
#include "model/mesh_file.hpp"
#include "test_model_support.hpp"

using namespace rakelight;
using namespace model_test;
namespace fs = std::filesystem;

namespace {

LoadOptions cached(const fs::path& folder, std::uint64_t limit_mib = 64) {
    LoadOptions options;
    options.cache.folder = folder;
    options.cache.limit_mib = limit_mib;
    return options;
}

std::vector<std::string> names_in(const fs::path& folder) {
    std::vector<std::string> names;
    for (const auto& entry : fs::directory_iterator(folder))
        names.push_back(entry.path().filename().string());
    std::sort(names.begin(), names.end());
    return names;
}

template <class T>
bool same_bytes(std::span<const T> a, std::span<const T> b) {
    return a.size_bytes() == b.size_bytes() && std::memcmp(a.data(), b.data(), a.size_bytes()) == 0;
}

void check_same(const Mesh& a, const Mesh& b) {
    CHECK(same_bytes(a.vertices(), b.vertices()));
    CHECK(same_bytes(a.indices(), b.indices()));
    CHECK(same_bytes(a.clusters(), b.clusters()));
    CHECK(a.hash() == b.hash());
    CHECK(a.file_bytes() == b.file_bytes());
    CHECK(a.facts().warnings == b.facts().warnings);
    CHECK(a.facts().shells == b.facts().shells);
    CHECK(a.parts()[0].name == b.parts()[0].name);
}

bool is_sound(const FileHandle& file) {
    return map_mesh_file(file.get()) != nullptr;
}

/// The flat mesh file of a tetrahedron, to be damaged.
FileHandle small_mesh_file(const TemporaryFolder& folder) {
    write(folder / "a.ply", as_binary_ply(tetrahedron()));
    load_model(folder / "a.ply", cached(folder / "cache"));
    const fs::path entry = *fs::directory_iterator(folder / "cache");
    FileHandle file(::open(entry.c_str(), O_RDWR));
    REQUIRE(is_sound(file));
    return file;
}

void set_age(const fs::path& file, int seconds) {
    timespec times[2]{};
    ::clock_gettime(CLOCK_REALTIME, &times[0]);
    times[0].tv_sec -= seconds;
    times[1] = times[0];
    REQUIRE(::utimensat(AT_FDCWD, file.c_str(), times, 0) == 0);
}

std::string the_entry(const fs::path& cache) {
    const auto names = names_in(cache);
    REQUIRE(names.size() == 1);
    return names[0];
}

}  // namespace

TEST_CASE("a hit is the miss, byte for byte") {
    const TemporaryFolder folder;
    write(folder / "a.ply", as_binary_ply(sphere(3.0, 3)));
    const Mesh miss = load_model(folder / "a.ply", cached(folder / "cache"));
    const Mesh hit = load_model(folder / "a.ply", cached(folder / "cache"));
    const Mesh direct = load_model(folder / "a.ply", no_cache());
    CHECK_FALSE(miss.from_cache());
    CHECK(hit.from_cache());
    CHECK_FALSE(direct.from_cache());
    check_same(miss, hit);
    check_same(miss, direct);
    // The same entry again, byte for byte: nothing in it depends on the clock or the threads.
    const std::string entry = read(folder / "cache" / the_entry(folder / "cache"));
    fs::remove_all(folder / "cache");
    load_model(folder / "a.ply", cached(folder / "cache"));
    CHECK(read(folder / "cache" / the_entry(folder / "cache")) == entry);
}

TEST_CASE("content, name and options each make an entry of their own") {
    const TemporaryFolder folder;
    const fs::path cache = folder / "cache";
    write(folder / "a.ply", as_binary_ply(tetrahedron()));
    load_model(folder / "a.ply", cached(cache));
    LoadOptions options = cached(cache);
    options.reading.crease_deg = 61.0;
    CHECK_FALSE(load_model(folder / "a.ply", options).from_cache());
    options.reading.normals = NormalSource::made;
    CHECK_FALSE(load_model(folder / "a.ply", options).from_cache());
    fs::copy_file(folder / "a.ply", folder / "b.ply");
    CHECK_FALSE(load_model(folder / "b.ply", options).from_cache());
    options.limits.wall_s = 7;  // changes nothing that the import gives
    CHECK(load_model(folder / "b.ply", options).from_cache());
    write(folder / "b.ply", as_binary_ply(box({0, 0, 0}, {1, 1, 1})));
    CHECK_FALSE(load_model(folder / "b.ply", options).from_cache());
}

TEST_CASE("a side file that changed, vanished or appeared makes a miss") {
    const TemporaryFolder folder;
    const LoadOptions options = cached(folder / "cache");
    const Model first = box({0, 0, 0}, {1, 1, 1}), second = box({0, 0, 0}, {1, 1, 2});
    write(folder / "a.gltf", as_gltf(first, "a.bin"));
    write(folder / "a.bin", gltf_buffer(first));
    const Mesh mesh = load_model(folder / "a.gltf", options);
    CHECK(mesh.file_bytes() == fs::file_size(folder / "a.gltf") + fs::file_size(folder / "a.bin"));
    CHECK(load_model(folder / "a.gltf", options).from_cache());

    write(folder / "a.bin", gltf_buffer(second));
    const Mesh changed = load_model(folder / "a.gltf", options);
    CHECK_FALSE(changed.from_cache());
    CHECK(changed.bounds().high.z == 2.0);
    CHECK(changed.hash() != mesh.hash());

    fs::remove(folder / "a.bin");
    CHECK(bad_model_message(folder / "a.gltf", options).find("a.bin") != std::string::npos);

    write(folder / "b.obj", "mtllib b.mtl\n" + as_obj(first));
    load_model(folder / "b.obj", options);
    CHECK(load_model(folder / "b.obj", options).from_cache());
    write(folder / "b.mtl", "newmtl gold\nKd 1 1 0\n");
    CHECK_FALSE(load_model(folder / "b.obj", options).from_cache());
    CHECK(load_model(folder / "b.obj", options).from_cache());
}

// The hash of no bytes is published with XXH3-128 (xxHash's own test vectors, seed 0).
TEST_CASE("a model without side files is known by its own XXH3-128") {
    CHECK(hash_text("") == "99aa06d3014798d86001c324468d497f");
    const TemporaryFolder folder;
    const std::string bytes = as_binary_ply(sphere(3.0, 4));
    write(folder / "a.ply", bytes);
    const Mesh mesh = load_model(folder / "a.ply", no_cache());
    CHECK(mesh.hash() == "xxh3:" + hash_text(bytes));  // in one go, not piece by piece
    CHECK(mesh.file_bytes() == bytes.size());
}

TEST_CASE("every truncation of a flat mesh file is noticed") {
    const TemporaryFolder folder;
    const FileHandle file = small_mesh_file(folder);
    const off_t size = ::lseek(file.get(), 0, SEEK_END);
    REQUIRE(::ftruncate(file.get(), size + 1) == 0);
    CHECK_FALSE(is_sound(file));
    REQUIRE(::ftruncate(file.get(), size) == 0);
    REQUIRE(is_sound(file));
    for (off_t length = size - 1; length >= 0; --length) {
        REQUIRE(::ftruncate(file.get(), length) == 0);
        CAPTURE(length);
        REQUIRE_FALSE(is_sound(file));
    }
}

TEST_CASE("every altered byte of a flat mesh file is noticed, but for the gaps between sections") {
    const TemporaryFolder folder;
    const FileHandle file = small_mesh_file(folder);
    const off_t size = ::lseek(file.get(), 0, SEEK_END);
    int unnoticed = 0;
    for (off_t at = 0; at < size; ++at) {
        char byte = 0;
        REQUIRE(::pread(file.get(), &byte, 1, at) == 1);
        for (const int change : {0x01, 0x80, 0xFF}) {
            const char altered = static_cast<char>(byte ^ change);
            REQUIRE(::pwrite(file.get(), &altered, 1, at) == 1);
            if (!is_sound(file)) continue;
            ++unnoticed;
            CAPTURE(at);
            CHECK(byte == '\0');  // gaps hold zeros
        }
        REQUIRE(::pwrite(file.get(), &byte, 1, at) == 1);
    }
    CHECK(is_sound(file));
    CHECK(unnoticed <= 3 * 4 * 63);  // four gaps of at most 63 bytes
}

TEST_CASE("a damaged entry is a miss and is mended") {
    const TemporaryFolder folder;
    const LoadOptions options = cached(folder / "cache");
    write(folder / "a.ply", as_binary_ply(sphere(1.0, 2)));
    const Mesh fresh = load_model(folder / "a.ply", options);
    const fs::path entry = folder / "cache" / the_entry(folder / "cache");
    std::string bytes = read(entry);
    bytes[bytes.size() / 2] ^= 0x10;
    write(folder / "damaged", bytes);
    fs::rename(folder / "damaged", entry);
    const Mesh again = load_model(folder / "a.ply", options);
    CHECK_FALSE(again.from_cache());
    check_same(fresh, again);
    CHECK(load_model(folder / "a.ply", options).from_cache());
}

TEST_CASE("processes that race for one entry all succeed") {
    const TemporaryFolder folder;
    write(folder / "a.ply", as_binary_ply(sphere(1.0, 5)));
    std::vector<pid_t> racers;
    for (int i = 0; i < 4; ++i) {
        const pid_t pid = ::fork();
        if (pid == 0) {
            try {
                const Mesh mesh = load_model(folder / "a.ply", cached(folder / "cache"));
                ::_exit(mesh.indices().size() == 3 * 20480 && mesh.facts().warnings.empty() ? 0
                                                                                            : 1);
            } catch (...) {
                ::_exit(2);
            }
        }
        racers.push_back(pid);
    }
    for (const pid_t pid : racers) {
        int status = -1;
        REQUIRE(::waitpid(pid, &status, 0) == pid);
        CHECK(status == 0);
    }
    the_entry(folder / "cache");  // one, and nothing unfinished beside it
    CHECK(load_model(folder / "a.ply", cached(folder / "cache")).from_cache());
}

TEST_CASE("the least recently used entries go first") {
    const TemporaryFolder folder;
    const LoadOptions options = cached(folder / "cache", 1);
    // 10,242 vertices and 20,480 triangles: 0.39 MiB each, two fit into 1 MiB.
    for (const char* name : {"a.ply", "b.ply", "c.ply"})
        write(folder / name, as_binary_ply(sphere(1.0 + name[0], 5)));
    load_model(folder / "a.ply", options);
    load_model(folder / "b.ply", options);
    for (const std::string& entry : names_in(folder / "cache"))
        set_age(folder / "cache" / entry, 100);
    const Mesh used = load_model(folder / "a.ply", options);  // used now, so b is the oldest
    CHECK(used.from_cache());
    load_model(folder / "c.ply", options);
    CHECK(names_in(folder / "cache").size() == 2);
    CHECK(load_model(folder / "a.ply", options).from_cache());
    CHECK(load_model(folder / "c.ply", options).from_cache());
    CHECK_FALSE(load_model(folder / "b.ply", options).from_cache());
    // Evicted or not, a mesh stays readable.
    fs::remove_all(folder / "cache");
    CHECK(used.indices().back() < used.vertices().size());
}

TEST_CASE("an entry larger than the limit is used and not kept") {
    const TemporaryFolder folder;
    write(folder / "a.ply", as_binary_ply(tetrahedron()));
    CHECK(load_model(folder / "a.ply", cached(folder / "cache", 0)).indices().size() == 12);
    CHECK(names_in(folder / "cache").empty());
}

TEST_CASE("what broken-off processes left is removed after a day") {
    const TemporaryFolder folder;
    fs::create_directory(folder / "cache");
    write(folder / "cache" / "unfinished-old", "x");
    write(folder / "cache" / "unfinished-new", "x");
    write(folder / "cache" / "other", "x");
    set_age(folder / "cache" / "unfinished-old", 90'000);
    set_age(folder / "cache" / "other", 90'000);
    write(folder / "a.ply", as_binary_ply(tetrahedron()));
    load_model(folder / "a.ply", cached(folder / "cache"));
    CHECK_FALSE(fs::exists(folder / "cache" / "unfinished-old"));
    CHECK(fs::exists(folder / "cache" / "unfinished-new"));
    CHECK(fs::exists(folder / "cache" / "other"));
}

TEST_CASE("nothing is left behind") {
    const TemporaryFolder folder;
    fs::create_directory(folder / "temporary");
    const char* old = std::getenv("TMPDIR");
    const std::string before = old != nullptr ? old : "/tmp";
    write(folder / "a.ply", as_binary_ply(tetrahedron()));
    write(folder / "bad.ply", "ply\n");
    ::setenv("TMPDIR", (folder / "temporary").c_str(), 1);
    SUBCASE("without a cache") {
        load_model(folder / "a.ply", no_cache());
    }
    SUBCASE("without a cache, after a failure") {
        bad_model_message(folder / "bad.ply");
    }
    SUBCASE("with one, after a failure") {
        bad_model_message(folder / "bad.ply", cached(folder / "cache"));
        CHECK(names_in(folder / "cache").empty());
    }
    SUBCASE("with one, after a limit") {
        LoadOptions options = cached(folder / "cache");
        options.limits.wall_s = 0;
        bad_model_message(folder / "a.ply", options);
        CHECK(names_in(folder / "cache").empty());
    }
    ::setenv("TMPDIR", before.c_str(), 1);
    CHECK(names_in(folder / "temporary").empty());
}

TEST_CASE("no folder for temporary files is no obstacle") {
    const TemporaryFolder folder;
    const char* old = std::getenv("TMPDIR");
    const std::string before = old != nullptr ? old : "/tmp";
    write(folder / "a.ply", as_binary_ply(tetrahedron()));
    ::setenv("TMPDIR", (folder / "missing").c_str(), 1);
    CHECK(load_model(folder / "a.ply", no_cache()).indices().size() == 12);
    ::setenv("TMPDIR", before.c_str(), 1);
}

TEST_CASE("a cache folder that cannot be used is a warning") {
    const TemporaryFolder folder;
    write(folder / "a.ply", as_binary_ply(tetrahedron()));
    write(folder / "file", "in the way");
    const Mesh mesh = load_model(folder / "a.ply", cached(folder / "file" / "cache"));
    CHECK(mesh.indices().size() == 12);
    REQUIRE(mesh.facts().warnings.size() == 1);
    CHECK(mesh.facts().warnings[0].find("the mesh cache ") == 0);
    CHECK(mesh.facts().warnings[0].find("cannot be used (") != std::string::npos);
}

// XDG base directory specification 0.8: $XDG_CACHE_HOME, else $HOME/.cache; relative paths are
// invalid and ignored; folders are made with mode 0700.
TEST_CASE("the cache lies where the XDG specification says") {
    const TemporaryFolder folder;
    const auto value = [](const char* name) {
        const char* text = std::getenv(name);
        return text != nullptr ? std::optional<std::string>(text) : std::nullopt;
    };
    const auto put = [](const char* name, const std::optional<std::string>& text) {
        text ? ::setenv(name, text->c_str(), 1) : ::unsetenv(name);
    };
    const auto xdg = value("XDG_CACHE_HOME"), home = value("HOME");
    put("HOME", "/home/of/somebody");
    put("XDG_CACHE_HOME", "/somewhere/else");
    CHECK(default_cache_folder() == "/somewhere/else/rakelight");
    for (const auto& ignored : {std::optional<std::string>("relative/path"),
                                std::optional<std::string>(""), std::optional<std::string>()}) {
        put("XDG_CACHE_HOME", ignored);
        CHECK(default_cache_folder() == "/home/of/somebody/.cache/rakelight");
    }
    put("HOME", std::nullopt);
    CHECK_THROWS_AS(default_cache_folder(), std::system_error);

    put("XDG_CACHE_HOME", (folder / "a" / "b").string());
    write(folder / "a.ply", as_binary_ply(tetrahedron()));
    load_model(folder / "a.ply", LoadOptions{});
    struct stat status {};
    REQUIRE(::stat((folder / "a/b/rakelight").c_str(), &status) == 0);
    CHECK((status.st_mode & 07777) == 0700);
    the_entry(folder / "a/b/rakelight");
    put("HOME", home);
    put("XDG_CACHE_HOME", xdg);
}
