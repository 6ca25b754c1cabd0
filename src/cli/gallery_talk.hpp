#pragma once
// The page and the sheet that `poses` and `gallery` make, and what is said of them.

#include <filesystem>
#include <string>
#include <vector>

#include <nlohmann/json.hpp>

#include "poses/gallery.hpp"

namespace CLI {
class App;
}

namespace rakelight {

/// --best and --by.
struct ChoiceOptions {
    std::size_t best = 0;  ///< 0: all
    std::string by;
};
void add_choice_options(CLI::App& command, ChoiceOptions& choice);

/// Throws Error(wrong_use) for a figure that there is not, or a --best that does not say of what.
GalleryOptions gallery_options(const ChoiceOptions& choice);

/// As event lines and answers have them; what is not known is null.
nlohmann::ordered_json figures_json(const PoseFigures& figures);

/// A table of the poses that the gallery shows, in its order, then what is not usable.
void print_poses(const WrittenGallery& gallery);

}  // namespace rakelight
