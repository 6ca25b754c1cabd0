// What the files of passes are called, and what of them is warned of.

#include <doctest/doctest.h>

#include <cstdlib>
#include <filesystem>
#include <string>
#include <vector>

#include "batch/passes.hpp"

using namespace rakelight;

namespace {

std::vector<std::string> files_of(const std::vector<std::string>& part_names, bool depth) {
    Scene scene;
    scene.passes = {};
    scene.passes.parts = PartsPass{};
    scene.passes.parts->depth = depth;
    return pass_files(scene, BlankGeometry(scene.blank), part_names);
}

using Files = std::vector<std::string>;

}  // namespace

// docs/passes.md: part-NAME.png and part-NAME-depth.png.
TEST_CASE("parts of equal names: both files of a part have its number") {
    CHECK(files_of({"a/b", "a b", "c"}, true) == Files{"part-a_b.png", "part-a_b-depth.png",
                                                       "part-a_b-2.png", "part-a_b-2-depth.png",
                                                       "part-c.png", "part-c-depth.png"});
}

// As on disks that ignore case, which are usual on other systems than Linux.
TEST_CASE("parts whose names differ by case alone get two files that do not") {
    CHECK(files_of({"Horn", "horn", "HORN", "horn-2"}, false) ==
          Files{"part-Horn.png", "part-horn-2.png", "part-HORN-3.png", "part-horn-2-2.png"});
}

TEST_CASE("a part that is called as another one's depth is does not overwrite it") {
    CHECK(files_of({"a", "A-depth"}, true) ==
          Files{"part-a.png", "part-a-depth.png", "part-A-depth-2.png", "part-A-depth-depth.png"});
}

// RFC 3629: of a character's bytes all but the first begin with the bits 10.
TEST_CASE("a letter beyond ASCII becomes one underscore, however many bytes it has") {
    CHECK(files_of({"\xC3\xA9t\xC3\xA9", "\xE8\xB2\x9D"}, false) ==
          Files{"part-_t_.png", "part-_.png"});
}

// A mask of a part that skip takes away: docs/passes.md.
TEST_CASE("a mask that shows nothing is warned of, once, and no other one") {
    std::string folder = (std::filesystem::temp_directory_path() / "batch-test-XXXXXX").string();
    REQUIRE(::mkdtemp(folder.data()) != nullptr);
    {
        OutputSet outputs(folder);
        ImageGrid grid;
        grid.width = grid.height = 2;
        const PassPlace place{outputs, grid, false};
        Scene scene;
        scene.passes = {};
        scene.passes.parts = PartsPass{};
        scene.passes.parts->depth = true;
        const auto passes =
            make_passes(scene, BlankGeometry(scene.blank), {"seen", "gone"}, nullptr, place);
        REQUIRE(passes.size() == 4);
        RenderedPlanes planes;
        planes.coverage = Plane(2, 2, 1.0F);
        planes.masks = {Plane(2, 2, 0.5F), Plane(2, 2, 0.0F)};
        planes.mask_heights_mm = {Plane(2, 2, 1.0F), Plane(2, 2, 1.0F)};
        for (const auto& pass : passes) {
            pass->add({planes, {}, 0});
            pass->settle({});
            pass->close();
        }
        for (std::size_t i = 0; i < passes.size(); ++i) {
            CAPTURE(i);
            CHECK(passes[i]->picture().warnings.size() == (i == 2 ? 1 : 0));
        }
        CHECK(passes[2]->picture().warnings.at(0) == "no pixel shows the part");
    }
    std::filesystem::remove_all(folder);
}
