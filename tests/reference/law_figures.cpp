// What the pictures of one model must say of each other. tests/cli/test_laws.cpp asserts these laws
// on a small form; here they are measured at the accuracy run's size.

#include "form_figures.hpp"
#include "form_scene.hpp"

namespace reference {
namespace {

using cli_test::Picture;

const char* const passes = "[pass.depth]\n[pass.occlusion]\nreach_mm = 2.0\n";

struct Difference {
    double most = 0.0;    ///< codes
    double within = 1.0;  ///< share of the pixels that differ by one code at most
};

// Where both silhouettes are full.
Difference difference(const SeenForm& a, const SeenForm& b, const std::string& pass,
                      bool mirrored) {
    const Picture one = a.read(pass), other = b.read(pass);
    const Picture there = a.read("silhouette"), also = b.read("silhouette");
    Difference result;
    double count = 0.0, within = 0.0;
    for (int y = 0; y < one.height; ++y) {
        for (int x = 0; x < one.width; ++x) {
            const int to = mirrored ? one.width - 1 - x : x;
            if (there.at(x, y) != 65535 || also.at(to, y) != 65535) continue;
            const double codes = std::abs(one.at(x, y) - other.at(to, y));
            result.most = std::max(result.most, codes);
            within += codes <= 1.0;
            count += 1.0;
        }
    }
    result.within = within / std::max(count, 1.0);
    return result;
}

glm::dmat3 about_y(double degrees) {
    const double a = degrees * 3.14159265358979323846 / 180.0;
    return {std::cos(a), 0, -std::sin(a), 0, 1, 0, std::sin(a), 0, std::cos(a)};
}

FormScene scene_of(const cli_test::Model& model, double px_per_mm, const std::string& pose) {
    return {model, px_per_mm, pose, passes, "normals = \"made\"\n"};
}

std::vector<Figure> turned(const fs::path& folder, double px_per_mm) {
    const cli_test::Model model = cli_test::crooked();
    const glm::dmat3 quarter = glm::transpose(about_y(90.0));  // exact but for the cosine's 6e-17
    const auto plain = see(scene_of(model, px_per_mm, "pitch_deg = 12\n"), folder, "law-plain");
    const auto by_pose =
        see(scene_of(cli_test::moved(model, quarter), px_per_mm, "yaw_deg = 90\npitch_deg = 12\n"),
            folder, "law-turned");
    const Difference depth = difference(plain, by_pose, "depth", false);
    const Difference occlusion = difference(plain, by_pose, "occlusion", false);
    const char* const law = "law: no difference but that of single precision";
    return {{"laws", "camera and model turned together: depth, most codes", law, depth.most, 1.0,
             false, "crooked"},
            // Normals are kept in two 16-bit numbers, rounded anew: 4 x 6.5e-5, see test_laws.cpp.
            {"laws", "the same: occlusion, most codes",
             "law; 4 roundings of normals by 6.5e-5 (Cigolle et al. 2014)", occlusion.most,
             65535 * 4 * 6.5e-5 + 1, false, "crooked"}};
}

std::vector<Figure> mirrored(const fs::path& folder, double px_per_mm) {
    const cli_test::Model model = cli_test::crooked();
    const glm::dmat3 mirror(-1, 0, 0, 0, 1, 0, 0, 0, 1);
    const auto plain = see(scene_of(model, px_per_mm, "yaw_deg = 20\n"), folder, "law-plain");
    const auto other = see(scene_of(cli_test::moved(model, mirror), px_per_mm, "yaw_deg = -20\n"),
                           folder, "law-mirrored");
    const char* const law = "law: the mirrored picture";
    return {{"laws", "a mirrored model: depth, most codes", law,
             difference(plain, other, "depth", true).most, 1.0, false, "crooked"},
            {"laws", "a mirrored model: occlusion, most codes",
             "law; 4 roundings of normals by 6.5e-5 (Cigolle et al. 2014)",
             difference(plain, other, "occlusion", true).most, 65535 * 4 * 6.5e-5 + 1, false,
             "crooked"}};
}

// Twice the pixels with half the samples each way: the same sample positions.
std::vector<Figure> averaged(const fs::path& folder, double px_per_mm) {
    FormScene once = scene_of(cli_test::crooked(), px_per_mm, "yaw_deg = 20\npitch_deg = 15\n");
    FormScene twice = once;
    twice.px_per_mm = 2.0 * px_per_mm;
    twice.samples = 2;
    const auto coarse = see(once, folder, "law-once"), fine = see(twice, folder, "law-twice");
    const Picture shares = coarse.read("silhouette"), fine_shares = fine.read("silhouette");
    const Picture depth = coarse.read("depth"), fine_depth = fine.read("depth");
    const cli_test::DepthReader mm(coarse.rendered.numbers("depth"));
    const cli_test::DepthReader fine_mm(fine.rendered.numbers("depth"));
    double most_share = 0.0, most_codes = 0.0;
    for (int y = 0; y < shares.height; ++y) {
        for (int x = 0; x < shares.width; ++x) {
            double share = 0.0, mean_mm = 0.0;
            for (int k = 0; k < 4; ++k) {
                const int i = 2 * x + k % 2, j = 2 * y + k / 2;
                share += 0.25 * fine_shares.at(i, j);
                mean_mm += 0.25 * fine_mm.depth_mm(fine_depth.at(i, j));
            }
            most_share = std::max(most_share, std::abs(share - shares.at(x, y)));
            if (shares.at(x, y) != 65535) continue;
            const double by_mm = std::abs(mean_mm - mm.depth_mm(depth.at(x, y)));
            most_codes = std::max(most_codes, by_mm / mm.mm_per_code());
        }
    }
    const char* const law = "law: half a code on either side";
    return {{"laws", "twice the pixels, averaged: silhouette, most codes", law, most_share, 1.0,
             false, "crooked"},
            {"laws", "twice the pixels, averaged: depth, most codes", law, most_codes, 1.05, false,
             "crooked"}};
}

}  // namespace

std::vector<Figure> law_figures(const fs::path& folder, double px_per_mm) {
    std::vector<Figure> figures;
    for (const auto& law : {averaged, turned, mirrored}) {
        for (auto& figure : law(folder, px_per_mm)) figures.push_back(figure);
    }
    return figures;
}

}  // namespace reference
