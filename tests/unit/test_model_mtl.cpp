// Material libraries of OBJ files. What the specification says (Advanced Visualizer, file formats,
// chapter 5, MTL; appendix B1, OBJ) is cited from memory.

#include <doctest/doctest.h>

#include <algorithm>

#include "model/readers/mtl_reader.hpp"
#include "model/readers/obj_text.hpp"
#include "test_model_support.hpp"
#include "test_texture_support.hpp"

using namespace rakelight;
using texture_test::Folder;

namespace {

const std::string points = "v 0 0 0\nv 1 0 0\nv 1 1 0\nvt 0 0\nvt 1 0\nvt 1 1\n";
const std::string triangle = points + "usemtl rock\nf 1/1 2/2 3/3\n";

std::string heights() {
    return texture_test::png(8, 8, 1, [](double u, double, int) { return u; });
}

/// The model with its library, as texture_test::load gives it.
Mesh with_library(const std::string& maps, const std::string& model = "mtllib m.mtl\n" + triangle) {
    const Folder folder;
    folder.write("n.png", heights());
    folder.write("m.mtl", "newmtl rock\nKd 1 1 1\n" + maps);
    folder.write("a.obj", model);
    return texture_test::load(folder / "a.obj");
}

std::string picture_of(const std::string& line) {
    const auto materials = read_mtl("newmtl m\n" + line + "\n");
    REQUIRE(materials.size() == 1);
    return materials[0].bump ? materials[0].bump->picture : "none";
}

}  // namespace

TEST_CASE("MTL: a picture's name is what stands behind the options, without blanks and quotes") {
    for (const char* line :
         {"map_bump n.png", "\tMap_Bump\tn.png   ", "bump n.png\r", "bump \"n.png\"",
          "bump -bm 0.5 n.png", "bump -clamp on -s 2 n.png", "bump -o 1 2 3 -s 1 1 n.png \t",
          "bump -mm 0 1 -imfchan l -texres 64 -blendu off -blendv on -type sphere n.png",
          "bump -t 0 0 0 -BM 2 \" n.png \""})
        CHECK(picture_of(line) == "n.png");
    CHECK(picture_of("bump my own map.png") == "my own map.png");
    CHECK(picture_of("bump -s 2 2 2 7") == "7");
    CHECK(picture_of("bump -s 2 2 7.png") == "7.png");
    CHECK(picture_of("bump -s 2") == "2");
    CHECK(picture_of("bump -odd.png") == "-odd.png");
    CHECK(picture_of("bump D:\\a b\\n.png") == "D:\\a b\\n.png");
    for (const char* line : {"bump", "bump  ", "bump \"\"", "#bump n.png", "bumpy n.png"})
        CHECK(picture_of(line) == "none");
    CHECK(read_mtl("bump n.png\n").empty());
    CHECK(read_mtl("").empty());
}

TEST_CASE("MTL: an OBJ's maps are found with blanks or quotes around their names") {
    for (const char* line :
         {"map_Bump n.png   \n", "map_bump \"n.png\"\n", "\tmap_bump\tn.png\t\r\n"})
        CHECK(with_library(line).details().size() == 1);
}

// bump, disp and map_d are the specification's, norm and map_Kn common practice.
TEST_CASE("MTL: each keyword of surface detail is read, alone too") {
    for (const auto& [keyword, use] :
         {std::pair{"norm", "normal map"}, std::pair{"map_Kn", "normal map"},
          std::pair{"bump", "bump map"}, std::pair{"map_bump", "bump map"},
          std::pair{"disp", "displacement map"}, std::pair{"map_disp", "displacement map"},
          std::pair{"map_d", "cut-out"}}) {
        CAPTURE(std::string(keyword));
        const Folder folder;
        folder.write("n.png", std::string(use) == "normal map"
                                  ? texture_test::normal_map(
                                        16, 16, [](double u, double) { return glm::dvec2(u, 0); })
                                  : heights());
        folder.write("m.mtl", "newmtl rock\n" + std::string(keyword) + " n.png\n");
        folder.write("a.obj", "mtllib m.mtl\n" + triangle);
        const Mesh mesh = texture_test::load(folder / "a.obj");
        CHECK(mesh.details().size() == 1);
        REQUIRE(mesh.facts().textures.size() == 1);
        CHECK(mesh.facts().textures[0].use == use);
    }
}

// -s u v w scales, -o u v w shifts the places on the picture; v and w may be left away and are 1
// and 0 then. -mm base gain: the picture's values times gain, plus base. -bm: times the factor.
TEST_CASE("MTL: options of a map place it and give it its strength") {
    const Mesh mesh =
        with_library("disp -clamp on -s 2 3 1 -o 0.25 0.5 0 -mm 0.2 0.5 -bm 3 n.png\n");
    REQUIRE(mesh.details().size() == 1);
    const SurfaceDetail& detail = mesh.details()[0];
    CHECK(detail.strength == doctest::Approx(1.5));
    REQUIRE(detail.slopes.has_value());
    CHECK(detail.slopes->wrap_u == Wrap::clamp);
    CHECK(detail.slopes->wrap_v == Wrap::clamp);
    std::array<float, 2> low{9, 9}, high{-9, -9};
    for (const DetailVertex& v : mesh.detail_vertices())
        for (std::size_t k = 0; k < 2; ++k) {
            low[k] = std::min(low[k], v.place[k]);
            high[k] = std::max(high[k], v.place[k]);
        }
    CHECK(low == std::array<float, 2>{0.25F, 0.5F});
    CHECK(high == std::array<float, 2>{2.25F, 3.5F});
    const auto materials = read_mtl("newmtl m\nbump -s 2 -o 0.5 n.png\nnorm -s 0 0 0 n.png\n");
    CHECK(materials[0].bump->scale == std::array<double, 2>{2.0, 1.0});
    CHECK(materials[0].bump->offset == std::array<double, 2>{0.5, 0.0});
    // A picture without width has no place.
    CHECK(with_library("disp -s 0 0 0 n.png\n").details().size() == 1);
}

TEST_CASE("OBJ: a library is found whatever machine wrote its path, and is no warning then") {
    struct Case {
        const char* name;
        const char* lies_at;
    };
    for (const Case c : {Case{"A.mtl", "A.mtl"}, Case{"a.MTL", "A.mtl"}, Case{".\\A.mtl", "A.mtl"},
                         Case{"C:/models/A.mtl", "A.mtl"}, Case{"C:\\models\\A.mtl", "A.mtl"},
                         Case{"/home/maker/A.mtl", "A.mtl"}, Case{"sub/A.mtl", "sub/A.mtl"},
                         Case{"C:\\x\\Sub\\a.mtl", "sub/A.mtl"}, Case{"A B.mtl  ", "A B.mtl"},
                         Case{"absent.mtl", "model.mtl"}}) {
        CAPTURE(std::string(c.name));
        const Folder folder;
        folder.write("n.png", heights());
        folder.write(c.lies_at, "newmtl rock\nbump n.png\n");
        folder.write("model.obj", "mtllib " + std::string(c.name) + "\n" + triangle);
        const Mesh mesh = texture_test::load(folder / "model.obj");
        CHECK(mesh.details().size() == 1);
        CHECK(mesh.facts().warnings.empty());
    }
}

TEST_CASE("OBJ: a library that is nowhere is one warning, and the model is read") {
    const Folder folder;
    folder.write("model.obj", "mtllib absent.mtl\n" + triangle);
    const Mesh mesh = texture_test::load(folder / "model.obj");
    REQUIRE(mesh.facts().warnings.size() == 1);
    CHECK(mesh.facts().warnings[0].find("absent.mtl") != std::string::npos);
}

// "mtllib filename1 filename2 ...": of a material that several have, the first file's counts.
TEST_CASE("OBJ: a line may name several libraries") {
    for (const char* line : {"A.mtl B.mtl", "a.mtl C:\\x\\b.mtl", "A.mtl B.mtl B.mtl"}) {
        CAPTURE(std::string(line));
        const Folder folder;
        folder.write("n.png", heights());
        folder.write("A.mtl", "newmtl rock\nbump -bm 2 n.png\n");
        folder.write("B.mtl", "newmtl moss\nbump -bm 3 n.png\nnewmtl rock\nbump -bm 4 n.png\n");
        folder.write("model.obj", "mtllib " + std::string(line) + "\n" + triangle +
                                      "v 0 0 1\nusemtl moss\nf 2/1 1/2 4/3\n");
        const Mesh mesh = texture_test::load(folder / "model.obj");
        CHECK(mesh.facts().warnings.empty());
        REQUIRE(mesh.details().size() == 2);
        CHECK(mesh.details()[0].strength + mesh.details()[1].strength == doctest::Approx(5.0));
    }
    const Folder folder;
    folder.write("n.png", heights());
    folder.write("my own.mtl", "newmtl rock\nbump n.png\n");
    folder.write("model.obj", "mtllib my own.mtl absent.mtl\n" + triangle);
    const Mesh mesh = texture_test::load(folder / "model.obj");
    CHECK(mesh.details().size() == 1);
    REQUIRE(mesh.facts().warnings.size() == 1);
    CHECK(mesh.facts().warnings[0].find("\"absent.mtl\"") != std::string::npos);
}

TEST_CASE("OBJ: a picture is looked for beside its library first, then beside the model") {
    const Folder folder;
    folder.write("sub/m.mtl", "newmtl rock\nbump n.png\n");
    folder.write("a.obj", "mtllib sub/m.mtl\n" + triangle);
    folder.write("n.png", heights());
    CHECK(texture_test::load(folder / "a.obj").facts().textures.at(0).found == "n.png");
    folder.write("sub/n.png", heights());
    CHECK(texture_test::load(folder / "a.obj").facts().textures.at(0).found == "sub/n.png");
}

// With maps the importer reads the file: parts are the same as without (test_model_plain.cpp).
TEST_CASE("OBJ: names of parts and comments are the same with maps") {
    const std::string face = "f 1/1 2/2 3/3 # c 4\n";
    const Mesh mesh =
        with_library("bump n.png\n", "mtllib .\\m.mtl\n" + points +
                                         "v 0 0 1 # c\nusemtl rock\no left arm\n" + face +
                                         "o left leg\nf 2/1 1/2 4/3\no left "
                                         "arm\nf 3/1 2/2 4/3\n");
    REQUIRE(mesh.parts().size() == 3);
    CHECK(mesh.parts()[0].name == "left arm");
    CHECK(mesh.parts()[1].name == "left leg");
    CHECK(mesh.parts()[2].name == "left arm#2");
    for (const Part& part : mesh.parts()) {
        CHECK(part.triangle_count == 1);
        CHECK(part.detail == 0);
    }
    CHECK(mesh.facts().warnings.empty());
}

TEST_CASE("OBJ: text is mended line for line, and only where the importer would stumble") {
    for (const char* text :
         {"", "# c\nv 0 0 0\no a\nf 1 2 3\no b\nf 1 2 3\n", "o a\ng a\nf 1 2 3\n",
          "g a\nf 1 2 3\ng b\nf 1 2 3\ng a\nf 1 2 3\n", "o a # b\\\nf 1 2 3\n", "o\n"})
        CHECK_FALSE(mended_obj(text).has_value());
    CHECK(mended_obj("o a b\r\nf 1 2 3 # c\ro a b\n\nf 1 2 3") ==
          "g a b\nf 1 2 3 \n#\n\nf 1 2 3\n");
    CHECK(mended_obj("mtllib a\\b.mtl\nusemtl c\\d\n") == "mtllib a/b.mtl\nusemtl c/d\n");
    CHECK(mended_obj("o a\nf 1 2 3\ng a\nf 1 2 3\n") == "g a\nf 1 2 3\n#\nf 1 2 3\n");
}
