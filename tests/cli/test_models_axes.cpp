// What a file states of its axes and unit, and the scene that says otherwise, in the picture.

#include "pictures.hpp"
#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

// A box of 2 x 4 x 6 in a file whose settings say: up +z, front +x, right +y, an inch a unit.
const char* const box_fbx = R"(; FBX 7.3.0 project file
FBXHeaderExtension:  {
	FBXVersion: 7300
}
GlobalSettings:  {
	Version: 1000
	Properties70:  {
		P: "UpAxis", "int", "Integer", "",2
		P: "UpAxisSign", "int", "Integer", "",1
		P: "FrontAxis", "int", "Integer", "",0
		P: "FrontAxisSign", "int", "Integer", "",1
		P: "CoordAxis", "int", "Integer", "",1
		P: "CoordAxisSign", "int", "Integer", "",1
		P: "UnitScaleFactor", "double", "Number", "",2.54
	}
}
Objects:  {
	Geometry: 10, "Geometry::g", "Mesh" {
		Vertices: *24 {
			a: 0,0,0,2,0,0,2,4,0,0,4,0,0,0,6,2,0,6,2,4,6,0,4,6
		}
		PolygonVertexIndex: *24 {
			a: 0,3,2,-2,4,5,6,-8,0,1,5,-5,1,2,6,-6,2,3,7,-7,3,0,4,-8
		}
	}
	Model: 11, "Model::piece", "Mesh" {
		Version: 232
	}
}
Connections:  {
	C: "OO",11,0
	C: "OO",10,11
}
)";

struct Sizes {
    double width, height;
};

Sizes rendered(const Place& place, const std::string& model) {
    SceneText scene;
    scene.model = "file = \"box.fbx\"\n" + model;
    const Json subject = render(place, scene).manifest.at("subject");
    return {subject.at("size_mm").at(0), subject.at("size_mm").at(1)};
}

void check_sizes(const Sizes& sizes, double width, double height) {
    CHECK(sizes.width == doctest::Approx(width).epsilon(1e-9));
    CHECK(sizes.height == doctest::Approx(height).epsilon(1e-9));
}

}  // namespace

TEST_SUITE_BEGIN("cli.models");

TEST_CASE("the file's own axes hold until the scene says otherwise") {
    const Place place;
    write_file(place / "box.fbx", box_fbx);
    // y to the right, z up: 4 x 6.
    check_sizes(rendered(place, ""), 4, 6);
    check_sizes(rendered(place, "up = \"+z\"\n"), 4, 6);  // as the file says: so is its front
    // The usual front of +y is +z: x to the right, y up.
    check_sizes(rendered(place, "up = \"+y\"\n"), 2, 4);
    check_sizes(rendered(place, "front = \"-y\"\n"), 2, 6);
    check_sizes(rendered(place, "up = \"+x\"\nfront = \"+y\"\n"), 6, 2);
}

TEST_CASE("inspect says what the file states, and the scene's unit goes before it") {
    const Place place;
    write_file(place / "box.fbx", box_fbx);
    const Ended ended = rakelight({"inspect", place / "box.fbx", "--json"});
    REQUIRE(ended.code == 0);
    const Json facts = Json::parse(ended.out);
    CHECK(facts.at("up") == "+z");
    CHECK(facts.at("front") == "+x");
    CHECK(facts.at("front_reason") == "stated by the file");
    CHECK(facts.at("mm_per_unit") == 25.4);
    CHECK(contains(rakelight({"inspect", place / "box.fbx"}).out, "front      +x: stated by the"));
    SceneText scene;
    const auto unit = [&](const std::string& model) {
        scene.model = "file = \"box.fbx\"\n" + model;
        return render(place, scene).manifest.at("model").at("mm_per_unit");
    };
    CHECK(unit("") == 25.4);
    CHECK(unit("unit = \"cm\"\n") == 10.0);
}

TEST_SUITE_END();
