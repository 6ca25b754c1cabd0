#include "batch/picture.hpp"

#include "error.hpp"

namespace rakelight {

void refuse_clipping(const std::vector<Picture>& pictures, std::vector<std::string>& warnings) {
    for (const auto& picture : pictures) {
        if (picture.clipped == 0) continue;
        std::string message = "the " + picture.name + " pass: " + std::to_string(picture.clipped) +
                              " pixels lie outside its fixed range; the subject's own values are";
        for (const auto& [name, value] : picture.statistics) {
            message += " " + name + " " + std::to_string(value);
        }
        if (!picture.clipping_allowed) {
            throw Error(ExitCode::unusable_picture,
                        message + "; expected none: widen it to " + picture.enough +
                            ", or set allow_clipping = true in [pass." + picture.name + "]");
        }
        warnings.push_back(message);
    }
}

}  // namespace rakelight
