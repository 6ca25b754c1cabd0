// Whatever bytes come in, a scene is read or refused with a message; nothing else happens.

#include <random>

#include "scene/lock_text.hpp"
#include "test_scene_support.hpp"

using namespace rakelight;
using namespace rakelight::test;

namespace {

/// A scene without its lock, to compare.
std::string unlocked(Scene scene) {
    scene.locked.reset();
    return dump(scene);
}

/// What is accepted can be locked, and nothing else changes by it; unless `locked` stands there in
/// a form that is refused.
void check_lock(const std::string& text, const Scene& scene) {
    static const LockedCamera camera = *parse(full_scene).locked;
    try {
        const std::string locked = with_locked_table(text, camera);
        const Scene again = parse(locked);
        if (unlocked(again) != unlocked(scene)) FAIL_CHECK("changed by its lock: " << text);
        if (with_locked_table(locked, camera) != locked) FAIL_CHECK("not stable: " << text);
    } catch (const Error& error) {
        if (!contains(error.what(), "inline table")) FAIL_CHECK(error.what() << ": " << text);
    }
}

/// 1 when the text is accepted, 0 when it is refused as it should be.
int outcome(const std::string& text) {
    try {
        check_lock(text, parse(text));
        return 1;
    } catch (const Error& error) {
        CHECK(error.code() == ExitCode::bad_scene);
        const std::string message = error.what();
        const bool worded =
            contains(message, "; expected ") || contains(message, "not valid TOML: ");
        if (!message.starts_with("medal.toml:") || !worded) FAIL_CHECK("message: " << message);
        return 0;
    }
}

std::string mutated(std::mt19937& random, std::string text) {
    const std::string alphabet = "[]{}=.,\"'#\n\r\t \\0x_-+eTZ:inf\xff\xc3\xa4\x7f\x01";
    const auto below = [&random](std::size_t count) { return random() % count; };
    for (std::size_t left = 1 + below(4); left > 0 && !text.empty(); --left) {
        const std::size_t at = below(text.size());
        switch (below(5)) {
            case 0:
                text[at] = static_cast<char>(random());
                break;
            case 1:
                text.erase(at, 1 + below(4));
                break;
            case 2:
                text.insert(at, 1, alphabet[below(alphabet.size())]);
                break;
            case 3:
                text.insert(at, text.substr(below(text.size()), below(24)));
                break;
            case 4:
                text[at] = alphabet[below(alphabet.size())];
                break;
        }
    }
    return text;
}

}  // namespace

TEST_CASE("fuzz: every truncation of a full scene is read or refused") {
    int accepted = 0;
    for (std::size_t length = 0; length <= full_scene.size(); ++length) {
        accepted += outcome(full_scene.substr(0, length));
    }
    // The guard: a good part is accepted (from [output] on, say), a good part is not.
    CHECK(accepted > 100);
    CHECK(accepted < static_cast<int>(full_scene.size()) - 500);
}

TEST_CASE("fuzz: 20,000 mutations are read or refused") {
    std::mt19937 random(20260607);
    int accepted = 0;
    for (int i = 0; i < 20000; ++i) accepted += outcome(mutated(random, full_scene));
    CHECK(accepted > 500);
    CHECK(accepted < 19500);
}

TEST_CASE("fuzz: random bytes and random tokens are refused") {
    std::mt19937 random(3);
    const std::vector<std::string> tokens{
        "[",      "]",      "[[",  "]]",   "blank",        ".",       "=", "\"", "'''",
        "\"\"\"", "{",      "}",   ",",    "\n",           "1",       "-", "e",  "\\",
        "#",      "locked", "nan", "\r\n", "\xef\xbb\xbf", "\xc2\xa0"};
    for (int i = 0; i < 5000; ++i) {
        std::string bytes, text;
        for (int k = 0; k < 40; ++k) bytes += static_cast<char>(random());
        for (int k = 0; k < 30; ++k) text += tokens[random() % tokens.size()];
        CHECK(outcome("[x]" + bytes) == 0);
        CHECK(outcome("[x]" + text) == 0);
    }
}

TEST_CASE("fuzz: overrides are taken or refused") {
    std::mt19937 random(4);
    const std::string characters = "az0.-+\"'[]{}=#, \n\\\xc3\xa4_";
    for (int i = 0; i < 5000; ++i) {
        Override set{"pose.yaw_deg", ""};
        const std::size_t length = random() % 8;
        for (std::size_t k = 0; k < length; ++k)
            set.value += characters[random() % characters.size()];
        if (i % 4 == 0) set.key = set.value;
        try {
            parse(smallest, {set});
        } catch (const Error& error) {
            const bool blamed =
                error.code() == ExitCode::bad_scene || error.code() == ExitCode::wrong_use;
            CHECK(blamed);
            CHECK(contains(error.what(), "--set "));
        }
    }
}
