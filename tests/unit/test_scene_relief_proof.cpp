// [relief.proof]: what it says, and what it must not.

#include "test_scene_support.hpp"

using namespace rakelight;
using namespace rakelight::test;

namespace {

const std::string table = smallest + "[relief.proof]\n";  // on lines 4 and on

}  // namespace

TEST_CASE("proof: none unless asked for; an empty table has its defaults") {
    CHECK_FALSE(parse(smallest + "[relief]\n").relief->proof);
    const ProofSettings usual = parse(table).relief->proof.value();
    CHECK(usual.lamp_deg == 135.0);
    CHECK(usual.lamp_height_deg == 25.0);
    CHECK(usual.material == ProofMaterial::bronze);
    CHECK(usual.sides == 8);
    CHECK(usual.turning == 24);
    CHECK_FALSE(usual.cut);
}

TEST_CASE("proof: all its keys") {
    const ProofSettings proof =
        parse(table +
              "lamp_deg = -30\nlamp_height_deg = 12.5\nmaterial = 'silver'\npatina = 0.25\n"
              "patina_mm = 1.5\nsize_px = 700\nsides = 4\nturning = 0\n"
              "cut_mm = [[-19, 0], [10.5, 2]]\n")
            .relief->proof.value();
    CHECK(proof.lamp_deg == -30.0);
    CHECK(proof.lamp_height_deg == 12.5);
    CHECK(proof.material == ProofMaterial::silver);
    CHECK(proof.patina == 0.25);
    CHECK(proof.patina_mm == 1.5);
    CHECK(proof.size_px == 700);
    CHECK(proof.sides == 4);
    CHECK(proof.turning == 0);
    REQUIRE(proof.cut);
    CHECK(proof.cut->from_mm == std::array{-19.0, 0.0});
    CHECK(proof.cut->to_mm == std::array{10.5, 2.0});
}

TEST_CASE("proof: each fault says where it stands and what belongs there") {
    const auto said = [](const std::string& text, std::initializer_list<const char*> words) {
        const std::string message = fault_of(table + text + "\n");
        CAPTURE(message);
        for (const char* word : words) CHECK(contains(message, word));
    };
    said("material = 'sliver'",
         {"medal.toml:5:12: [relief.proof] material", "\"sliver\"", "Did you mean \"silver\"?"});
    said("lamp = 3", {"medal.toml:5:1: [relief.proof] lamp:", "unknown key"});
    said("lamp_height_deg = 0", {":5:19:", "from 1 to 90"});
    said("patina = 1.5", {":5:10:", "from 0 to 1"});
    said("patina_mm = 0", {"above 0"});
    said("sides = 37", {":5:9:", "36"});
    said("sides = 2.5", {"whole number"});
    said("turning = -1", {"72"});
    said("size_px = 3", {"16"});
    said("cut_mm = [[0, 0]]", {":5:10: [relief.proof] cut_mm", "a cut through 1 point",
                               "cut_mm = [[-15.0, 0.0], [15.0, 0.0]]"});
    said("cut_mm = [[1, 2], [1, 2]]", {"from a point to itself"});
    said("cut_mm = [[0, 0], [19.5, 0]]", {"the point [19.5, 0] beyond a blank of 38 x 38 mm"});
    said("cut_mm = [[0, 0, 0], [1, 1]]", {"pairs of numbers"});
    said("cut_mm = 3", {"cut_mm"});
}
