#pragma once
// The first scene for a model: short, commented, ready to render and to be edited.

#include <string>
#include <vector>

namespace rakelight {

struct DraftFacts {
    std::string model_file;  ///< as it shall stand in the scene file
    std::string up;          ///< "+y" ...
    std::string up_reason;   ///< why that was taken, for the comment
    std::string size;        ///< "30.1 x 12.0 x 29.5 mm" or "... units", for the comment
    std::vector<std::string> part_names;  ///< for the comment; may be empty
};

/// A scene file's text. It parses with parse_scene as it is. Throws Error(bad_model) when the
/// model's file name is not UTF-8, which no scene file can hold.
std::string draft_scene(const DraftFacts& facts);

}  // namespace rakelight
