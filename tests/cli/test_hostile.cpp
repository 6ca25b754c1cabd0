// Files made to exhaust or to fool whoever opens them, through the real command: it ends soon, with
// exit code 4 and a line that says what was wrong, and leaves nothing behind.

#include <algorithm>

#include "hostile_files.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

/// Limits as a careful user would set them for files from anywhere. The time is what the kernel
/// counts for the import alone, so that a busy machine changes nothing.
const Words tight{"--import-memory-mib", "1024", "--import-cpu-s", "10"};

Ended inspect(const fs::path& file, const Words& limits = tight) {
    Setup setup;
    setup.timeout_s = 90.0;
    Words words{"inspect", file.string(), "--no-cache"};
    words.insert(words.end(), limits.begin(), limits.end());
    return rakelight(words, setup);
}

/// Refused, by whomever: a reader, a limit, or the wall around a crash.
void check_stopped(const std::string& name, const std::string& bytes, const Words& any_of = {},
                   const Words& limits = tight) {
    CAPTURE(name);
    const Place place;
    write_file(place / name, bytes);
    const Ended ended = inspect(place / name, limits);
    CHECK_FALSE(ended.timed_out);
    check_refused(ended, 4, {name});
    const bool said = any_of.empty() || std::any_of(any_of.begin(), any_of.end(), [&](auto& word) {
                          return contains(ended.err, word);
                      });
    CHECK_MESSAGE(said, ended.err);
    CHECK(fs::is_empty(root_folder() / "tmp"));
}

/// Taken as it is meant, or refused in one line.
void check_ends(const fs::path& file) {
    CAPTURE(file.string());
    const Ended ended = inspect(file);
    CHECK_FALSE(ended.timed_out);
    CHECK(ended.signal == 0);
    if (ended.code != 0) check_refused(ended, 4, {file.filename().string()});
}

const Words limit_or_reason{"ran out of memory", "of CPU time", "cannot be read",
                            "cut short",         "expected",    "crashed"};

/// A zip archive of one entry that unpacks to `start` and 2,000 MiB of blanks.
std::string zipped_run(const std::string& name, const std::string& start) {
    return zip_of({{name, packed_run(start, ' ', 2000),
                    static_cast<std::uint32_t>(start.size()) + (2000u << 20)}});
}

}  // namespace

TEST_SUITE_BEGIN("cli.hostile");

TEST_CASE(
    "a 3MF or AMF that unpacks to gigabytes is refused for what it is, without tighter limits") {
    // What it claims to unpack to might be more than this machine has.
    const Words wide{"--memory", "8192"};
    const std::string start = "<?xml version=\"1.0\"?><model>";
    const std::string types =
        "<Types xmlns=\"http://schemas.openxmlformats.org/package/2006/content-types\"/>";
    const std::string bytes = zip_of({{"[Content_Types].xml", packed_run(types, ' ', 0),
                                       static_cast<std::uint32_t>(types.size())},
                                      {"3D/3dmodel.model", packed_run(start, ' ', 2000),
                                       static_cast<std::uint32_t>(start.size()) + (2000u << 20)}});
    CHECK(bytes.size() < (4u << 20));
    check_stopped("bomb.3mf", bytes, {"unpacks to more than"}, wide);
    check_stopped("bomb.amf", zipped_run("bomb.amf", "<?xml version=\"1.0\"?><amf>"),
                  {"unpacks to more than"}, wide);
}

TEST_CASE("other packed formats that unpack to gigabytes are stopped by the limits") {
    check_stopped("bomb.zae", zipped_run("bomb.dae", "<?xml version=\"1.0\"?><COLLADA>"),
                  limit_or_reason);
    check_stopped("bomb.pk3", zipped_run("maps/bomb.bsp", "IBSP"), limit_or_reason);
    check_stopped("bomb.blend", gzip_run("BLENDER-v248", '\0', 2000), limit_or_reason);
    check_stopped("bomb.zgl", "\x78\xda" + packed_run("<WORLD>", ' ', 2000), limit_or_reason);
}

TEST_CASE("arrays and blocks that are packed within a file are stopped by the limits") {
    const std::string mesh = "Mesh m {3;0;0;0;,1;0;0;,0;1;0;;1;3;0,1,2;;}\n";
    const Place place;
    // The same files without a bomb in them are read: it is the packed data that is refused.
    write_file(place / "sound.x", packed_x(mesh, 0));
    write_file(place / "sound.fbx", packed_fbx(9, 0));
    for (const char* name : {"sound.x", "sound.fbx"}) {
        const Ended sound = inspect(place / name);
        CHECK_MESSAGE(sound.code == 0, sound.err);
    }
    check_stopped("bomb.x", packed_x(mesh, 2000), {"unpacks to more than"});
#ifndef __SANITIZE_ADDRESS__  // under which the address space is not limited
    check_stopped("bomb.fbx", packed_fbx(3 * (90u << 20), 2160), {"ran out of memory"});
    // Claims alone: more than is there.
    check_stopped("claims.fbx", packed_fbx(3 * (90u << 20), 0), {"ran out of memory"});
    check_stopped("claims.q3o", q3o_claiming(1u << 28), {"ran out of memory"});
#endif
    // So many that their bytes wrap around in 32 bits.
    check_stopped("wraps.fbx", packed_fbx((1u << 29) + 10, 0), {"cannot be read", "can be read"});
    check_stopped("draco.gltf", draco_claiming(1u << 28), {"Draco"});
    check_stopped(
        "bomb.ifczip",
        zip_of({{"bomb.ifc", packed_run("ISO-10303-21;\n", ' ', 2000), 14 + (2000u << 20)}}),
        limit_or_reason);
}

TEST_CASE("few lines that stand for billions are refused for what they are") {
    std::string groups = "<Group DEF=\"g0\"><Shape/></Group>", objects = "<object id=\"0\"/>";
    for (int i = 1; i < 40; ++i) {
        const std::string id = std::to_string(i), last = std::to_string(i - 1);
        const std::string use = "<Group USE=\"g" + last + "\"/>";
        const std::string component = "<component objectid=\"" + last + "\"/>";
        groups += "<Group DEF=\"g" + id + "\">" + use + use + "</Group>";
        objects += "<object id=\"" + id + "\"><components>" + component + component +
                   "</components></object>";
    }
    check_stopped("uses.x3d", "<X3D><Scene>" + groups + "</Scene></X3D>", {"its USE elements"});
    const std::string document = "<model><resources>" + objects +
                                 "</resources><build><item objectid=\"39\"/></build></model>";
    check_stopped("places.3mf",
                  zip_of({{"3D/3dmodel.model", packed_run(document, ' ', 0),
                           static_cast<std::uint32_t>(document.size()), sum_of(document)}}),
                  {"its components repeat"});
}

#ifndef __SANITIZE_ADDRESS__  // the same
TEST_CASE("a bomb leaves no output behind") {
    const Place place;
    SceneText scene;
    scene.model = "file = \"bomb.fbx\"\n";
    write_file(place / "scene.toml", scene.text());
    write_file(place / "bomb.fbx", packed_fbx(3 * (90u << 20), 2160));
    const Snapshot before = snapshot(place.folder());
    Words words{"render", (place / "scene.toml").string(), "--out", (place / "out").string()};
    words.insert(words.end(), tight.begin(), tight.end());
    check_refused(rakelight(words), 4, {"bomb.fbx", "ran out of memory"});
    CHECK(differences(before, snapshot(place.folder())).empty());
}
#endif

TEST_CASE("counts beyond the file are refused, not believed") {
    // glTF 2.0 specification, 3.6.2.4: an accessor lies within its buffer view.
    check_stopped("beyond.gltf", gltf_claiming(1000), limit_or_reason);
    check_stopped("huge.gltf", gltf_claiming(std::uint64_t{1} << 40), limit_or_reason);
    check_stopped("most.gltf", gltf_claiming(~std::uint64_t{0}), limit_or_reason);
    check_stopped("claims.off", "OFF\n4000000000 4000000000 0\n0 0 0\n", limit_or_reason);
    check_stopped("claims.ply",
                  "ply\nformat binary_little_endian 1.0\nelement vertex 4000000000\nproperty float "
                  "x\nproperty float y\nproperty float z\nelement face 1000000000\nproperty list "
                  "uchar int vertex_indices\nend_header\n",
                  {"cut short"});
    check_stopped("claims.stl", std::string(80, ' ') + std::string(4, '\xff') + "few bytes",
                  limit_or_reason);
}

TEST_CASE("a magic word and then nothing but the largest numbers is refused") {
    for (const auto& [name, magic] : std::vector<std::pair<std::string, std::string>>{
             {"claims.md2", "IDP2"},
             {"claims.md3", "IDP3"},
             {"claims.mdl", "IDPO"},
             {"claims.b3d", "BB3D"},
             {"claims.3ds", "MM"},
             {"claims.lwo", "FORM"},
             {"claims.ms3d", "MS3D000000"},
             {"claims.q3o", "quick3Do"},
             {"claims.iqm", "INTERQUAKEMODEL"},
             {"claims.ter", "TERRAGENTERRAIN "},
             {"claims.m3d", "3DMO"},
             {"claims.fbx", std::string("Kaydara FBX Binary  \0\x1a\0\xe8\x1c\0\0", 27)}}) {
        check_stopped(name, magic + std::string(4096, '\xff'));
        check_stopped(name, magic + std::string("\xff\xff\xff\x7f", 4) + std::string(4096, '\x7f'));
    }
}

TEST_CASE("a chain of a million nodes, and nodes that hold themselves, end") {
    const Place place;
    write_file(place / "chain.gltf", gltf_chain(1'000'000));
    write_file(place / "nested.dae", collada_nested(1'000'000));
    write_file(place / "cycle.dae", collada_cycle());
    for (const char* name : {"chain.gltf", "nested.dae", "cycle.dae"}) check_ends(place / name);
}

TEST_CASE("files that include themselves end") {
    const Place place;
    write_file(place / "self.obj", "mtllib self.obj\nv 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n");
    check_ends(place / "self.obj");
    // The importer goes on until a limit stops it; what a sanitizer ends, ends without a word of
    // why.
#ifdef __SANITIZE_ADDRESS__
    const Words any_reason;
#else
    const Words any_reason{"includes itself"};
#endif
    check_stopped("self.lws", "LWSC\n3\n\nLoadObjectLayer 1 self.lws\n", any_reason, {});
}

TEST_CASE("what a model needs outside of its folder is refused by name, unless it is allowed") {
    const Place place;
    fs::create_directories(place / "a/b");
    std::string buffer(36, '\0');  // the triangle (0,0,0) (1,0,0) (0,1,0) as floats
    for (const std::size_t one : {12, 28}) buffer.replace(one, 4, std::string("\0\0\x80\x3f", 4));
    write_file(place / "a/x.bin", buffer);
    const fs::path model = place / "a/b/m.gltf";
    const auto refer_to = [&](const std::string& uri) {
        std::string text = gltf_claiming(3);
        const std::size_t begin = text.find("data:"), end = text.find('"', begin);
        write_file(model, text.replace(begin, end - begin, uri));
        return inspect(model, {});
    };
    const std::string outside = (place / "a/x.bin").string();
    check_refused(refer_to(outside), 4, {"m.gltf", "x.bin"});
    check_refused(refer_to("file://" + outside), 4, {"m.gltf", "x.bin"});
    check_refused(refer_to("http://club.example/x.bin"), 4, {"x.bin", "nothing is fetched"});
    check_refused(refer_to("x.bin"), 4, {"\"x.bin\"", "not there", (place / "a/b/x.bin").string()});
    fs::create_symlink(place / "a/x.bin", place / "a/b/x.bin");
    check_refused(refer_to("x.bin"), 4, {"\"x.bin\"", "outside"});
    check_refused(refer_to("../x.bin"), 4, {"\"../x.bin\"", "outside", "--outside-files"});

    CHECK(inspect(model, {"--outside-files"}).code == 0);
    SceneText scene;
    scene.model = "file = \"a/b/m.gltf\"\n";
    write_file(place / "scene.toml", scene.text());
    const std::string file = (place / "scene.toml").string();
    CHECK(rakelight({"check", file}).code == 4);
    CHECK(rakelight({"check", file, "--set", "model.outside_files=true"}).code == 0);
}

TEST_CASE("what a model can do without is a warning that names it and where it was looked for") {
    const Place place;
    fs::create_directories(place / "a/b");
    write_file(place / "a/x.mtl", "newmtl horn\nKd 1 0 0\n");
    const auto refer_to = [&](const std::string& library) {
        write_file(place / "a/b/m.obj",
                   "mtllib " + library + "\nusemtl horn\nv 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n");
        const Ended ended = rakelight({"inspect", (place / "a/b/m.obj").string()});
        CHECK(ended.code == 0);
        // From the cache the second time, word for word.
        const Ended again = rakelight({"inspect", (place / "a/b/m.obj").string()});
        CHECK(again.err == ended.err);
        CHECK(again.out == ended.out);
        return ended.err;
    };
    CHECK(contains(refer_to("../x.mtl"), "\"../x.mtl\", which lies outside"));
    CHECK(contains(refer_to("gone.mtl"), (place / "a/b/gone.mtl").string()));
    fs::create_symlink(place / "a/x.mtl", place / "a/b/link.mtl");
    CHECK(contains(refer_to("link.mtl"), "\"link.mtl\", which lies outside"));
    write_file(place / "a/b/x.mtl", "newmtl horn\n");
    fs::create_symlink("x.mtl", place / "a/b/inner.mtl");
    CHECK(refer_to("x.mtl") == "");
    CHECK(refer_to("inner.mtl") == "");
    // A link that is replaced by a file of the folder's own is noticed.
    refer_to("link.mtl");
    fs::remove(place / "a/b/link.mtl");
    fs::copy_file(place / "a/b/x.mtl", place / "a/b/link.mtl");
    CHECK(rakelight({"inspect", (place / "a/b/m.obj").string()}).err == "");
}

TEST_CASE("a model that is itself a link to elsewhere is read, from any working folder") {
    const Place place;
    fs::create_directories(place / "store");
    write_file(place / "store/m.obj", "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n");
    fs::create_directories(place / "desk");
    fs::create_symlink(place / "store/m.obj", place / "desk/m.obj");
    CHECK(inspect(place / "desk/m.obj").code == 0);
    // By the importer too.
    write_file(place / "store/m.off", "OFF\n3 1 0\n0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n");
    fs::create_symlink(place / "store/m.off", place / "desk/m.off");
    CHECK(inspect(place / "desk/m.off").code == 0);
    Setup inside;
    inside.cwd = place / "desk";
    CHECK(rakelight({"inspect", "m.obj", "--no-cache"}, inside).code == 0);
}

TEST_SUITE_END();
