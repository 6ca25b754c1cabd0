// The text edit of a lock, and overrides. The input is a scene's text, and before its first byte of
// zero, where there is one, an override.

#include <optional>

#include "error.hpp"
#include "fuzz_input.hpp"
#include "scene/lock_text.hpp"

using namespace rakelight;

namespace {

LockedCamera camera() {
    LockedCamera camera;
    camera.centre_model = {0.5, -1e-9, 1e17};
    camera.model_hash = "xxh3:8d2f1c0b7a6958473625140f9e8d7c6b";
    camera.settings_hash = "5ac1e07d93b2684f";
    return camera;
}

std::optional<Scene> parsed(const std::string& text, const std::vector<Override>& overrides) {
    try {
        return parse_scene(text, "medal.toml", overrides);
    } catch (const Error& error) {
        const bool known = error.code() == ExitCode::bad_scene ||
                           (error.code() == ExitCode::wrong_use && !overrides.empty());
        fuzz::require(known, "exit code 3, or 2 for an override");
        return std::nullopt;
    }
}

void check_lock(const std::string& text, const Scene& scene) {
    std::string locked;
    try {
        locked = with_locked_table(text, camera());
    } catch (const Error& error) {
        fuzz::require(error.code() == ExitCode::bad_scene, "exit code 3");
        return;
    }
    const auto again = parsed(locked, {});
    fuzz::require(again && again->locked, "a locked scene reads");
    fuzz::require(again->locked->centre_model == camera().centre_model, "numbers read back");
    fuzz::require(settings_hash(*again) == settings_hash(scene), "no setting changes");
    fuzz::require(with_locked_table(locked, camera()) == locked, "a lock is stable");
}

std::vector<Override> overrides_from(std::string_view text) {
    try {
        return {parse_override(std::string(text))};
    } catch (const Error& error) {
        fuzz::require(error.code() == ExitCode::wrong_use, "exit code 2");
        return {};
    }
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string_view input = fuzz::text_of(data, size);
    const std::size_t cut = input.find('\0');
    const bool has_override = cut != std::string_view::npos;
    const std::string text(has_override ? input.substr(cut + 1) : input);
    if (has_override) parsed(text, overrides_from(input.substr(0, cut)));
    if (const auto scene = parsed(text, {})) check_lock(text, *scene);
    return 0;
}
