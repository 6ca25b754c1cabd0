// Writing [locked] is an edit of text: the table changes, every other byte stays.

#include <algorithm>
#include <cmath>
#include <cstring>
#include <random>

#include "scene/lock_text.hpp"
#include "test_scene_support.hpp"

using namespace rakelight;
using namespace rakelight::test;

namespace {

/// Any finite double, all exponents alike: what to_chars and the parser must agree on.
double any_double(std::mt19937_64& random) {
    while (true) {
        const std::uint64_t bits = random();
        double number = 0.0;
        std::memcpy(&number, &bits, sizeof number);
        if (std::isfinite(number)) return number;
    }
}

glm::dmat3 any_rotation(std::mt19937_64& random) {
    std::normal_distribution<double> normal;
    const glm::dvec3 x = glm::normalize(glm::dvec3(normal(random), normal(random), normal(random)));
    const glm::dvec3 side(normal(random), normal(random), normal(random));
    const glm::dvec3 y = glm::normalize(glm::cross(x, side));
    return {x, y, glm::cross(x, y)};
}

LockedCamera any_camera(std::mt19937_64& random) {
    LockedCamera camera;
    const bool perspective = random() % 2 == 0;
    camera.projection = perspective ? Projection::perspective : Projection::parallel;
    camera.view_from_model = any_rotation(random);
    camera.centre_model = {any_double(random), any_double(random), any_double(random)};
    camera.mm_per_unit = std::max(std::abs(any_double(random)), 5e-324);
    camera.picture_mm = {any_double(random), any_double(random)};
    camera.eye_mm = perspective ? std::max(std::abs(any_double(random)), 5e-324) : 0.0;
    camera.model_hash = "xxh3:" + std::to_string(random());
    camera.settings_hash = std::to_string(random());
    return camera;
}

template <typename T>
bool same_bits(const T& a, const T& b) {
    return std::memcmp(&a, &b, sizeof(T)) == 0;
}

void check_same(const LockedCamera& a, const LockedCamera& b) {
    CHECK(a.projection == b.projection);
    CHECK(same_bits(a.view_from_model, b.view_from_model));
    CHECK(same_bits(a.centre_model, b.centre_model));
    CHECK(same_bits(a.mm_per_unit, b.mm_per_unit));
    CHECK(same_bits(a.picture_mm, b.picture_mm));
    CHECK(same_bits(a.eye_mm, b.eye_mm));
    CHECK(a.model_hash == b.model_hash);
    CHECK(a.settings_hash == b.settings_hash);
}

/// The table as it stands in full_scene, from its header to its last key.
const std::string full_table = full_scene.substr(full_scene.find("[locked]"));
const std::string before_table = full_scene.substr(0, full_scene.find("[locked]"));

std::string replaced_all(std::string text, const std::string& what, const std::string& with) {
    for (std::size_t at = text.find(what); at != std::string::npos;
         at = text.find(what, at + with.size())) {
        text.replace(at, what.size(), with);
    }
    return text;
}

/// Scenes without the table, each in a way that a careless edit would spoil.
std::vector<std::string> scenes_without() {
    return {smallest,
            smallest.substr(0, smallest.size() - 1),
            smallest + "\n",
            smallest + "\n\n",
            smallest + "# the last word",
            "\xef\xbb\xbf" + smallest,
            replaced_all(smallest, "\n", "\r\n"),
            replaced_all(smallest + "\n", "\n", "\r\n"),
            before_table,
            smallest + "skip = [\"\"\"\\\n[locked]\\\neye_mm = 3\"\"\", '''\n[locked]''']\n",
            "[blank]\n[model]\nfile = 'a'\nuse = [\n\"[locked]\",\n# [locked]\n]\n",
            "[blank]\n[model]\nfile = '''\n[locked]'''\n",
            "# [locked]\n" + smallest + "#[locked]\n#eye_mm = 3\n"};
}

/// The same scene with the table, once in each surrounding: {before, table, after}.
struct Surrounded {
    std::string before, table, after;
};
std::vector<Surrounded> scenes_with() {
    const std::string table = full_table.substr(0, full_table.size() - 1);
    const std::string windows = replaced_all(table, "\n", "\r\n");
    const std::string no_file = "[blank]\n[model]\nfile = \"\"\"[locked]\"\"\"\n";
    return {{smallest, table, "\n"},
            {smallest, table, ""},
            {"\xef\xbb\xbf" + smallest, table, "\n\n# the end"},
            {"[blank]\n", table, "\n\n# The model:\n[model]\nfile = 'a' # [locked]\n"},
            {"", table, "\n# one\n\n# two\n[blank]\nwidth_mm = 38\n[model]\nfile = 'a'\n"},
            {"", table, "\n\n\n[[not]]\n"},
            {replaced_all(smallest, "\n", "\r\n"), windows, "\r\n\r\n# the end\r\n"},
            {replaced_all(smallest, "\n", "\r\n"), windows, ""},
            {smallest + "skip = [\"a\\\"[\", 'b\\']\n", table, "\n"},
            {"[blank]\n[model]\nfile = '''a'''''\n", table, "\n"},
            {"[blank]\n[model]\nfile = \"\"\"\"a\\\"\"\"\"\"\n", table, "\n"},
            {smallest + "skip = ['[locked]']\nuse = [\n  '[locked]',\n]\n  ", table, "  # mine\n"},
            {no_file, table, "\n   [ pose ] # x\nyaw_deg = 1"}};
}

/// Where the edited text must differ from the one before: after the header, up to `after`.
std::string header_of(const std::string& table) {
    return table.substr(0, table.find_first_of("\r\n"));
}

}  // namespace

TEST_CASE("lock: appended, the text is kept and the camera reads back to the bit") {
    std::mt19937_64 random(20260607);
    for (const std::string& text : scenes_without()) {
        CAPTURE(text);
        for (int i = 0; i < 20; ++i) {
            const LockedCamera camera = any_camera(random);
            const std::string locked = with_locked_table(text, camera);
            CHECK(locked.starts_with(text));
            const Scene before = parse(text);
            Scene after = parse(locked);
            REQUIRE(after.locked.has_value());
            check_same(*after.locked, camera);
            after.locked.reset();
            CHECK(dump(after) == dump(before));
            CHECK(with_locked_table(locked, camera) == locked);
            // Replaced is as if appended at once.
            const LockedCamera other = any_camera(random);
            CHECK(with_locked_table(locked, other) == with_locked_table(text, other));
        }
    }
}

TEST_CASE("lock: appended after exactly one empty line, with a word on what it is") {
    const LockedCamera camera = *parse(full_scene).locked;
    const auto added = [&camera](const std::string& text) {
        return with_locked_table(text, camera).substr(text.size());
    };
    CHECK(added(smallest).starts_with("\n# The camera of this picture"));
    CHECK(added(smallest + "\n").starts_with("# The camera"));
    CHECK(added(smallest + "#").starts_with("\n\n# The camera"));
    CHECK(added(replaced_all(smallest, "\n", "\r\n")).starts_with("\r\n# The camera"));
    CHECK(added(replaced_all(smallest, "\n", "\r\n") + "\r\n").starts_with("# The camera"));
    CHECK(added(smallest).ends_with("eye_mm = 140.0\n"));
    const std::string windows = added(replaced_all(smallest, "\n", "\r\n"));
    CHECK(replaced_all(replaced_all(windows, "\r\n", "\n"), "\n", "\r\n") == windows);
}

TEST_CASE("lock: replaced, every byte outside the table stays") {
    std::mt19937_64 random(7);
    for (const Surrounded& one : scenes_with()) {
        const std::string text = one.before + one.table + one.after;
        CAPTURE(text);
        for (int i = 0; i < 20; ++i) {
            const LockedCamera camera = any_camera(random);
            const std::string locked = with_locked_table(text, camera);
            CHECK(locked.starts_with(one.before + header_of(one.table)));
            // A comment on the last key's own line goes with the key.
            const std::string after = one.after.starts_with("  # mine") ? "\n" : one.after;
            CHECK(locked.ends_with(after));
            CHECK(locked.find("xxh3:00112233") == std::string::npos);
            CHECK(with_locked_table(locked, camera) == locked);
            if (fault_of(text) != "") continue;  // made to be hard to edit, not to be rendered
            Scene scene = parse(locked);
            check_same(scene.locked.value(), camera);
            Scene old = parse(text);
            scene.locked.reset();
            old.locked.reset();
            CHECK(dump(scene) == dump(old));
        }
    }
}

TEST_CASE("lock: the header's own spelling stays") {
    std::mt19937_64 random(8);
    const std::string body = full_table.substr(full_table.find('\n'));
    for (const char* header : {"[locked]", "[ locked ]", "  [locked]\t# keep [this]",
                               "[\"locked\"]", "['locked']", "[\tlocked]#"}) {
        CAPTURE(std::string(header));
        const LockedCamera camera = any_camera(random);
        const std::string locked = with_locked_table(smallest + header + body, camera);
        CHECK(locked.starts_with(smallest + header + "\nprojection = "));
        check_same(parse(locked).locked.value(), camera);
    }
}

TEST_CASE("lock: the written table, exactly") {
    LockedCamera camera = *parse(full_scene).locked;
    camera.centre_model = {-0.0, 1e22, 0.1};
    const std::string comment =
        "# The camera of this picture, written by \"rakelight lock\". Delete the table to fit "
        "anew.\n";
    CHECK(with_locked_table(before_table, camera) == before_table + comment + R"([locked]
projection = "perspective"
model_hash = "xxh3:00112233445566778899aabbccddeeff"
settings_hash = "0123456789abcdef"
view_from_model = [
    [0.8, 0.0, -0.6],
    [0.0, 1.0, 0.0],
    [0.6, 0.0, 0.8],
]
centre_model = [-0.0, 1e+22, 0.1]
mm_per_unit = 12.7
picture_mm = [0.25, -1.0]
eye_mm = 140.0
)");
}

TEST_CASE("lock: forms that cannot be replaced line by line are refused") {
    const LockedCamera camera = *parse(full_scene).locked;
    const auto fault = [&camera](const std::string& text) {
        try {
            with_locked_table(text, camera, "medal.toml");
        } catch (const Error& error) {
            CHECK(error.code() == ExitCode::bad_scene);
            return std::string(error.what());
        }
        return std::string();
    };
    for (const std::string& text : std::vector<std::string>{
             "locked = { eye_mm = 0.0 }\n" + smallest, "locked.eye_mm = 0.0\n" + smallest,
             "[[locked]]\n" + smallest, "[locked.x]\n" + smallest}) {
        CAPTURE(text);
        CHECK(contains(fault(text), "medal.toml:1:"));
        CHECK(contains(fault(text), "[locked]: found locked as an inline table, dotted keys"));
        CHECK(contains(fault(text), "Delete it"));
    }
    CHECK(contains(fault("[blank\n"), "1:7: not valid TOML"));
}
