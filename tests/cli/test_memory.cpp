// Memory that is stated beforehand, against the peak that the system measured for the process and
// its children (ru_maxrss, getrusage(2)).

#include <fcntl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmath>
#include <cstdio>
#include <cstring>
#include <thread>

#include "hostile_files.hpp"
#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

// Peak of one run in MiB, of the largest of its processes.
double peak_mib(const Words& arguments) {
    const Words words = command_line(arguments);
    const Setup setup = own_folders();
    std::vector<char*> raw;
    for (const auto& word : words) raw.push_back(const_cast<char*>(word.c_str()));
    raw.push_back(nullptr);
    const pid_t pid = ::fork();
    if (pid == 0) {
        for (const auto& [name, value] : setup.env) ::setenv(name.c_str(), value.c_str(), 1);
        ::dup2(::open("/dev/null", O_WRONLY), 1);
        ::execv(raw[0], raw.data());
        ::_exit(127);
    }
    int status = 0;
    rusage usage{};
    REQUIRE(::wait4(pid, &status, 0, &usage) == pid);
    REQUIRE(WIFEXITED(status));
    CHECK(WEXITSTATUS(status) == 0);
    return static_cast<double>(usage.ru_maxrss) / 1024.0;
}

// What stays below a mesh or a picture of any size: the program, and what threads have.
// docs/models.md.
double fixed_mib() {
    return 24.0 + 2.0 * std::max(1U, std::thread::hardware_concurrency());
}

// Points of one place stay together. No edge is smooth any more, so that no two triangles share a
// normal.
Model rough(Model model) {
    for (auto& point : model.points) {
        const auto noise = [&](double seed) {
            const glm::dvec3 r = glm::round(point * 1e4);
            return std::sin(std::fmod(seed * (r.x + 7.1 * r.y + 3.7 * r.z), 1e4));
        };
        point += 0.3 * glm::dvec3(noise(1.3), noise(2.7), noise(4.1));
    }
    return model;
}

// Every triangle with corners of its own, away from all others.
Model apart(const Model& model) {
    Model loose;
    for (const auto& triangle : model.triangles) {
        const auto first = static_cast<std::uint32_t>(loose.points.size());
        const glm::dvec3 shift(first % 100, first / 100 % 100, first / 10000);
        for (const auto corner : triangle) loose.points.push_back(model.points[corner] + shift);
        loose.triangles.push_back({first, first + 1, first + 2});
    }
    return loose;
}

std::string point_text(glm::dvec3 p) {
    char text[80];
    std::snprintf(text, sizeof text, "%.6g %.6g %.6g\n", p.x, p.y, p.z);
    return text;
}

std::string face_text(const std::array<std::uint32_t, 3>& t, const char* before, unsigned first) {
    char text[80];
    std::snprintf(text, sizeof text, "%s%u %u %u\n", before, t[0] + first, t[1] + first,
                  t[2] + first);
    return text;
}

void write_as(const fs::path& file, const Model& model) {
    const std::string extension = file.extension();
    const auto points = std::to_string(model.points.size());
    const auto faces = std::to_string(model.triangles.size());
    if (extension == ".ply") return write_ply(file, model);
    std::string text;
    if (extension == ".stl") {
        text.assign(80, ' ');
        const auto count = static_cast<std::uint32_t>(model.triangles.size());
        text.append(reinterpret_cast<const char*>(&count), 4);
        for (const auto& triangle : model.triangles) {
            std::array<float, 12> numbers{};
            for (std::size_t k = 0; k < 9; ++k)
                numbers[3 + k] =
                    static_cast<float>(model.points[triangle[k / 3]][static_cast<int>(k % 3)]);
            text.append(reinterpret_cast<const char*>(numbers.data()), 48);
            text.append(2, '\0');
        }
        return write_file(file, text);
    }
    const bool obj = extension == ".obj";
    if (!obj) text = "OFF\n" + points + " " + faces + " 0\n";
    for (const auto& p : model.points) text += (obj ? "v " : "") + point_text(p);
    for (const auto& t : model.triangles) text += face_text(t, obj ? "f " : "3 ", obj ? 1 : 0);
    write_file(file, text);
}

// Truevision TGA 2.0, section C.3 to C.6, from memory: grey, rows without packing.
std::string grey_tga(int side) {
    std::string bytes(18, '\0');
    bytes[2] = 3;
    for (const int at : {12, 14}) {
        bytes[at] = static_cast<char>(side & 255);
        bytes[at + 1] = static_cast<char>(side >> 8);
    }
    bytes[16] = 8;
    for (int i = 0; i < side * side; ++i)
        bytes += static_cast<char>(128.0 + 100.0 * std::sin(0.05 * (i % side)));
    return bytes;
}

// COLLADA 1.4.1: one geometry, shown in so many places that are each scaled in another way.
std::string collada_of(const Model& model, int places) {
    std::string points, corners, nodes;
    for (const auto& p : model.points) points += point_text(p);
    for (const auto& t : model.triangles) corners += face_text(t, "", 0);
    for (int i = 1; i <= places; ++i)
        nodes += "<node><scale>1 1 1." + std::to_string(i) +
                 "</scale><instance_geometry url='#g'/></node>";
    const std::string count = std::to_string(model.points.size());
    return "<COLLADA xmlns='http://www.collada.org/2005/11/COLLADASchema' version='1.4.1'><asset>"
           "<up_axis>Y_UP</up_axis></asset><library_geometries><geometry id='g'><mesh><source "
           "id='p'><float_array id='a' count='" +
           std::to_string(3 * model.points.size()) + "'>" + points +
           "</float_array><technique_common><accessor source='#a' stride='3' count='" + count +
           "'><param name='X' type='float'/><param name='Y' type='float'/><param name='Z' "
           "type='float'/></accessor></technique_common></source><vertices id='v'><input "
           "semantic='POSITION' source='#p'/></vertices><triangles count='" +
           std::to_string(model.triangles.size()) +
           "'><input semantic='VERTEX' source='#v' offset='0'/><p>" + corners +
           "</p></triangles></mesh></geometry></library_geometries><library_visual_scenes>"
           "<visual_scene id='s'>" +
           nodes +
           "</visual_scene></library_visual_scenes><scene><instance_visual_scene url='#s'/></scene>"
           "</COLLADA>";
}

/// All points, `between`, all triangles; each as a format of printf has it.
std::string listed(const Model& model, const char* point, const char* between,
                   const char* triangle) {
    std::string text;
    char line[160];
    for (const auto& p : model.points) {
        std::snprintf(line, sizeof line, point, p.x, p.y, p.z);
        text += line;
    }
    text += between;
    for (const auto& t : model.triangles) {
        std::snprintf(line, sizeof line, triangle, t[0], t[1], t[2]);
        text += line;
    }
    return text;
}

// 3MF Core Specification 1.3, sections 3 and 4.
std::string threemf_document(const Model& model) {
    return "<model unit='millimeter' xmlns='http://schemas.microsoft.com/3dmanufacturing/core/2015/"
           "02'><resources><object id='1'><mesh><vertices>" +
           listed(model, "<vertex x='%.6g' y='%.6g' z='%.6g'/>", "</vertices><triangles>",
                  "<triangle v1='%u' v2='%u' v3='%u'/>") +
           "</triangles></mesh></object></resources><build><item objectid='1'/></build></model>";
}

// ISO/ASTM 52915, from memory.
std::string amf_document(const Model& model) {
    return "<amf unit='millimeter'><object id='1'><mesh><vertices>" +
           listed(model,
                  "<vertex><coordinates><x>%.6g</x><y>%.6g</y><z>%.6g</z></coordinates></vertex>",
                  "</vertices><volume>", "<triangle><v1>%u</v1><v2>%u</v2><v3>%u</v3></triangle>") +
           "</volume></mesh></object></amf>";
}

std::string zipped(const std::string& name, const std::string& document) {
    return zip_of({{name, packed_run(document, ' ', 0), static_cast<std::uint32_t>(document.size()),
                    sum_of(document)}});
}

void check_import(const fs::path& file, double most_times) {
    CAPTURE(file.filename().string());
    const Words words{"inspect", file, "--no-cache", "--json"};
    const Ended ended = rakelight(words);
    REQUIRE(ended.code == 0);
    const double stated = Json::parse(ended.out).at("import_mib");
    const double peak = peak_mib(words);
    CHECK(stated >= peak);
    CHECK(stated <= most_times * peak + fixed_mib());
}

SceneText scene_of(int px_per_mm, const std::string& passes) {
    SceneText scene;
    scene.image = "px_per_mm = " + std::to_string(px_per_mm) + "\n";
    scene.passes = passes;
    return scene;
}

Json memory_of(const fs::path& scene) {
    const Ended ended = rakelight({"check", scene, "--json"});
    REQUIRE(ended.code == 0);
    return Json::parse(ended.out).at(0).at("memory");
}

const std::string usual =
    "[pass.depth]\n[pass.occlusion]\n[pass.curvature]\n[pass.silhouette]\n[pass.contour]\n"
    "[pass.normal]\n";
const std::string all = usual + "[pass.undercut]\n[pass.steep]\n[pass.blank]\n";

}  // namespace

TEST_SUITE_BEGIN("cli.memory");

#ifndef __SANITIZE_ADDRESS__  // whose own memory is a multiple of the program's

TEST_CASE("an import takes no more than stated, and not much less") {
    const Place place;
    for (const int cuts : {20, 120}) {
        const Model smooth = sphere(8.0, cuts);
        for (const std::string format : {"ply", "stl", "obj", "off"}) {
            // Factors of docs/models.md: counts are exact, a file's size is not.
            const double most_times = format == "ply" || format == "stl" ? 2.5 : 3.5;
            const fs::path file = place / ("smooth" + std::to_string(cuts) + "." + format);
            write_as(file, smooth);
            check_import(file, most_times);
            write_as(place / ("rough." + format), rough(smooth));
            check_import(place / ("rough." + format), most_times);
        }
        for (const char* name : {"apart.ply", "apart.stl"}) {
            write_as(place / name, apart(smooth));
            check_import(place / name, 2.5);
        }
    }
}

TEST_CASE("of what is packed the size counts that it unpacks to") {
    const Place place;
    for (const Model& model : {sphere(8.0, 120), rough(sphere(8.0, 120))}) {
        write_file(place / "a.3mf", zipped("3D/3dmodel.model", threemf_document(model)));
        check_import(place / "a.3mf", 3.5);
        write_file(place / "a.amf", zipped("a.amf", amf_document(model)));
        check_import(place / "a.amf", 3.5);
        write_file(place / "plain.amf", amf_document(model));
        check_import(place / "plain.amf", 3.5);
        write_file(place / "a.zae", zipped("a.dae", collada_of(model, 1)));
        check_import(place / "a.zae", 3.5);
    }
}

TEST_CASE("of glTF what it holds is counted, wherever that lies") {
    const Place place;
    const Model model = sphere(8.0, 120);
    std::vector<std::string> uneven, again;
    for (int i = 0; i < 6; ++i) {
        const std::string shift = R"("translation":[)" + std::to_string(20 * i) + ",0,0]";
        uneven.push_back(shift + R"(,"scale":[-1,1,1.)" + std::to_string(i) + "]");
        again.push_back(shift);
    }
    write_gltf(place / "one.gltf", model, {{again[0]}});
    check_import(place / "one.gltf", 2.5);
    write_gltf(place / "uneven.gltf", model, {uneven});
    check_import(place / "uneven.gltf", 2.5);
    write_gltf(place / "again.gltf", model, {again});
    const auto stated = [&](const char* name) {
        const Ended ended = rakelight({"inspect", place / name, "--json"});
        return Json::parse(ended.out).at("import_mib").get<double>();
    };
    CHECK(stated("again.gltf") == stated("one.gltf"));
    CHECK(stated("uneven.gltf") > 3.0 * (stated("one.gltf") - fixed_mib()));
    for (const int side : {512, 2048}) {
        write_file(place / "map.tga", grey_tga(side));
        write_gltf(place / "map.gltf", sphere(8.0, 20), {{again[0]}, true, "map.tga"});
        check_import(place / "map.gltf", 2.5);
    }
}

TEST_CASE("a picture takes no more than stated, and not much less") {
    const Place place;
    write_ply(place / "model.ply", sphere(8.0, 60));
    for (const int px_per_mm : {5, 80}) {
        for (const std::string& passes : {std::string("[pass.depth]\n"), usual, all}) {
            CAPTURE(px_per_mm);
            CAPTURE(passes);
            write_file(place / "scene.toml", scene_of(px_per_mm, passes).text());
            const double stated = memory_of(place / "scene.toml").at("render_mib");
            const double peak = peak_mib(
                {"render", place / "scene.toml", "--out", place / "out", "--context", "processor"});
            CHECK(stated >= peak);
            CHECK(stated <= 2.0 * peak + fixed_mib());
        }
    }
}

TEST_CASE("fewer pictures are at work where memory is short") {
    const Place place;
    write_ply(place / "model.ply", sphere(8.0, 20));
    Words words{"render"};
    for (int i = 0; i < 4; ++i) {
        words.push_back(place / ("s" + std::to_string(i) + ".toml"));
        write_file(words.back(), scene_of(50, usual).text());
    }
    const int one = memory_of(words.back()).at("render_mib");
    words.insert(words.end(), {"--out", place / "out", "--context", "processor", "--memory",
                               std::to_string(one + 10)});
    CHECK(peak_mib(words) <= one + 10);
}

TEST_CASE("what the head says or only the reading finds ends with 4 beyond --memory") {
    const Place place;
    const auto refused = [&](const char* name, const Words& expected) {
        check_refused(rakelight({"inspect", place / name, "--no-cache", "--memory", "400"}), 4,
                      expected);
    };
    std::string claims = grey_tga(16);
    claims[12] = claims[14] = 0;
    claims[13] = claims[15] = 0x20;  // 8192 a side
    write_file(place / "map.tga", claims);
    // 28 bytes a pixel, and in glTF, where it is reckoned beforehand, what is kept of it besides.
    write_gltf(place / "map.gltf", sphere(8.0, 4), {{R"("scale":[1,1,1])"}, true, "map.tga"});
    refused("map.gltf", {"67108864 pixels", "its import may take", "400 MiB", "--memory"});
    write_file(place / "map.mtl", "newmtl ribbed\nmap_Bump map.tga\n");
    write_file(place / "map.obj",
               "mtllib map.mtl\nusemtl ribbed\nv 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0 0\nvt 1 0\nvt 0 1\n"
               "f 1/1 2/2 3/3\n");
    refused("map.obj", {"bump map", "map.tga", "8192 x 8192 pixels", "1792 MiB", "400 MiB"});
    // A hundred kilobytes that 2,000 uneven places make a surface of gigabytes.
    write_file(place / "places.dae", collada_of(sphere(8.0, 12), 2000));
    refused("places.dae", {"triangles of", "no copies", "400 MiB", "--memory"});
}

#endif

TEST_CASE("an import beyond --memory ends with 4 before it begins, with both figures") {
    const Place place;
    // What its head promises, and as many bytes, but no triangle: it is never looked at.
    write_file(place / "big.stl", std::string(80, ' ') + std::string("\x40\x42\x0f\x00", 4) +
                                      std::string(50'000'000, '\xff'));
    check_refused(rakelight({"inspect", place / "big.stl", "--memory", "100"}), 4,
                  {"big.stl", "1000000 triangles", "100 MiB", "--memory"});
}

TEST_CASE("a picture beyond --memory ends with 7 before it begins, with all figures") {
    const Place place;
    write_ply(place / "model.ply", sphere(8.0, 10));
    write_file(place / "scene.toml", scene_of(100, usual).text());
    const int stated = memory_of(place / "scene.toml").at("render_mib");
    const std::string less = std::to_string(stated - 1);
    check_refused(
        rakelight({"render", place / "scene.toml", "--memory", less, "--out", place / "out"}), 7,
        {"scene.toml", std::to_string(stated) + " MiB", less + " MiB", "px_per_mm"});
    CHECK_FALSE(fs::exists(place / "out"));
    const Ended checked = rakelight({"check", place / "scene.toml", "--memory", less});
    CHECK(checked.code == 0);
    CHECK(contains(checked.err, "will refuse"));
    check_refused(rakelight({"poses", place / "scene.toml", "--yaw=0,10", "--memory", "60"}), 7,
                  {"scene.toml", "60 MiB"});
}

TEST_SUITE_END();
