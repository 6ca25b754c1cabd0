// The proofs of a relief as a user gets them: which files, which bytes, and when none.

#include "shapes.hpp"
#include "support.hpp"

using namespace cli_test;

namespace {

/// The width that a PNG's first chunk, IHDR, states (PNG specification, third edition, 11.2.1); its
/// kind must be 8-bit RGB.
int width_of_rgb8(const fs::path& file) {
    const std::string bytes = read_file(file);
    REQUIRE(bytes.size() > 26);
    REQUIRE(bytes.substr(12, 4) == "IHDR");
    CHECK(bytes[24] == 8);
    CHECK(bytes[25] == 2);
    const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(bytes[i]); };
    return byte(16) << 24 | byte(17) << 16 | byte(18) << 8 | byte(19);
}

}  // namespace

TEST_SUITE_BEGIN("cli.relief");

TEST_CASE("proofs: files beside the passes, the same bytes again, none with --no-proof") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    const SceneText scene = with_relief(
        "[relief.proof]\nsides = 3\nturning = 5\nmaterial = 'silver'\n"
        "cut_mm = [[-9.0, 0.0], [9.0, 0.0]]\n");
    write_file(place / "scene.toml", scene.text());
    const auto rendered = [&](const char* folder) {
        CHECK(rakelight({"render", place / "scene.toml", "--out", place / folder}).code == 0);
        return lasting_files(place / folder);
    };
    const Snapshot once = rendered("once");
    const std::vector<std::string> proofs{"relief-lit.png", "relief-strip.png",
                                          "relief-turning.gif", "relief-cut.svg"};
    for (const std::string& proof : proofs) {
        CHECK(once.contains(proof));
        CHECK(contains(rakelight({"render", place / "scene.toml", "--dry-run"}).out, proof));
        CHECK_FALSE(contains(
            rakelight({"render", place / "scene.toml", "--dry-run", "--no-proof"}).out, proof));
        CHECK_FALSE(contains(once.at("manifest.json"), proof));
    }
    CHECK(differences(once, rendered("again")).empty());
    // Its pictures are the map's own size, less than the usual one; the rest stay what they are.
    CHECK(width_of_rgb8(place / "once" / "relief-lit.png") == 200);
    const Rendered without = render(place, scene, "without");
    for (const std::string& proof : proofs) CHECK_FALSE(fs::exists(without.folder / proof));
    CHECK(read_file(without.folder / "relief.png") == once.at("relief.png"));
}

TEST_CASE("proofs: what is not asked for is not made") {
    const Place place;
    write_ply(place / "model.ply", crooked());
    write_file(place / "scene.toml",
               with_relief("[relief.proof]\nsides = 0\nturning = 0\nsize_px = 64\n").text());
    CHECK(rakelight({"render", place / "scene.toml", "--out", place / "out"}).code == 0);
    CHECK(width_of_rgb8(place / "out" / "relief-lit.png") == 64);
    for (const char* other : {"relief-strip.png", "relief-turning.gif", "relief-cut.svg"})
        CHECK_FALSE(fs::exists(place / "out" / other));
}
