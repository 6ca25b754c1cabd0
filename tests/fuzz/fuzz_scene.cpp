// The text of a scene file: read, or refused with a place and what was expected; what is read can
// be hashed, and the hash is that of the settings alone.

#include "error.hpp"
#include "fuzz_input.hpp"
#include "scene/scene.hpp"

using namespace rakelight;

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string text(fuzz::text_of(data, size));
    try {
        const Scene scene = parse_scene(text, "/club/medal.toml");
        fuzz::require(settings_hash(scene).size() == 16, "a hash of 16 digits");
        fuzz::require(settings_hash(parse_scene(text, "/other/tag.toml")) == settings_hash(scene),
                      "equal settings have equal hashes");
    } catch (const Error& error) {
        fuzz::require(error.code() == ExitCode::bad_scene, "exit code 3");
        fuzz::require(std::string_view(error.what()).starts_with("/club/medal.toml:"),
                      "a message that begins with the place");
    }
    return 0;
}
