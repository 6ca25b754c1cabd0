#include "batch/relief_proofs.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <memory>

#include "image/gif.hpp"
#include "image/proof.hpp"
#include "interrupt.hpp"
#include "struck/cut_drawing.hpp"
#include "struck/struck_piece.hpp"

namespace rakelight {
namespace {

constexpr int small_px = 480;  // longest side of a side in the strip, and of the turning picture
constexpr int strip_columns = 4;
constexpr int turn_cs = 240;  // how long a whole turn takes
constexpr int least_cs = 4;   // readers slow down what is quicker

StruckPiece piece_of(ReliefWork& work, const ProofSettings& proof, int longest_px) {
    const ImageGrid& grid = work.grid();
    return {work.relief().height_mm, work.blank(), grid,
            reduced_size(grid.width, grid.height, longest_px), proof};
}

/// The small piece is made once for the strip and the turning picture.
class SmallPiece {
public:
    explicit SmallPiece(const ProofSettings& proof) : proof_(proof) {}

    /// The piece under the lamp, after so many of `steps` to a whole turn counter-clockwise.
    Image8 lit(ReliefWork& work, int step, int steps) {
        if (!piece_) piece_.emplace(piece_of(work, proof_, small_px));
        stop_if_interrupted();
        return piece_->lit({lamp_deg(step, steps), proof_.lamp_height_deg});
    }
    double lamp_deg(int step, int steps) const { return proof_.lamp_deg + 360.0 * step / steps; }
    const ProofSettings& proof() const { return proof_; }

private:
    ProofSettings proof_;
    std::optional<StruckPiece> piece_;
};

/// "lamp at 135 deg, upper left": the words where it stands within a degree of them.
std::string lamp_text(double lamp_deg) {
    constexpr std::array<const char*, 8> sides{"right", "upper right", "top",  "upper left",
                                               "left",  "lower left",  "foot", "lower right"};
    double turn = std::fmod(lamp_deg, 360.0);
    if (turn < 0.0) turn += 360.0;
    char text[64];
    std::snprintf(text, sizeof text, "lamp at %.4g deg", turn);
    const auto eighth = static_cast<std::size_t>(std::lround(turn / 45.0));
    if (std::abs(turn - 45.0 * static_cast<double>(eighth)) > 1.0) return text;
    return std::string(text) + ", " + sides[eighth % 8];
}

std::vector<std::byte> strip_of(ReliefWork& work, SmallPiece& piece) {
    const int sides = piece.proof().sides;
    std::vector<ProofPanel> panels;
    for (int side = 0; side < sides; ++side)
        panels.push_back(
            {lamp_text(piece.lamp_deg(side, sides)), image16_from(piece.lit(work, side, sides))});
    return encode_proof(panels, "", {small_px, std::min(sides, strip_columns)});
}

std::vector<std::byte> turning_of(ReliefWork& work, SmallPiece& piece) {
    const int pictures = piece.proof().turning;
    std::vector<Image8> turn;
    for (int step = 0; step < pictures; ++step) turn.push_back(piece.lit(work, step, pictures));
    return encode_gif(turn, std::max(least_cs, turn_cs / pictures));
}

std::vector<std::byte> bytes_of(const std::string& text) {
    const auto* from = reinterpret_cast<const std::byte*>(text.data());
    return {from, from + text.size()};
}

}  // namespace

std::vector<ReliefFile> relief_proofs(const Scene& scene) {
    std::vector<ReliefFile> files;
    if (!scene.relief || !scene.relief->proof) return files;
    const ProofSettings proof = *scene.relief->proof;
    const auto add = [&](const char* name, const char* ending, const char* meaning, auto bytes) {
        files.push_back({output_name(scene, name, ending), meaning, std::move(bytes)});
    };
    add("relief-lit", ".png", "the relief on its blank under the lamp", [proof](ReliefWork& work) {
        return encode_png8(
            piece_of(work, proof, proof.size_px).lit({proof.lamp_deg, proof.lamp_height_deg}));
    });
    const auto small = std::make_shared<SmallPiece>(proof);
    if (proof.sides > 0) {
        add("relief-strip", ".png", "the same under a lamp from all sides",
            [small](ReliefWork& work) { return strip_of(work, *small); });
    }
    if (proof.turning > 0) {
        add("relief-turning", ".gif", "the same under a lamp that goes around",
            [small](ReliefWork& work) { return turning_of(work, *small); });
    }
    if (proof.cut) {
        add("relief-cut", ".svg", "the relief on its blank, cut along a line",
            [cut = *proof.cut](ReliefWork& work) {
                return bytes_of(cut_drawing(
                    cut_profile(work.relief().height_mm, work.blank(), work.grid(), cut), cut));
            });
    }
    return files;
}

std::uint64_t relief_proofs_bytes(const ProofSettings& proof) {
    constexpr std::uint64_t small_pixels = std::uint64_t{small_px} * small_px;
    // Codes of all sides, and the sheet that they are put on; pictures of the turn, their colours,
    // their file. The large piece takes less than the relief has given back.
    const std::uint64_t strip = small_pixels * static_cast<std::uint64_t>(proof.sides) * 12;
    const std::uint64_t turning = small_pixels * static_cast<std::uint64_t>(proof.turning) * 8;
    return std::max(strip, turning);
}

}  // namespace rakelight
