#pragma once
// A form of known size, rendered one model unit to the millimetre, and what is seen of it.

#include "shapes.hpp"
#include "traced_picture.hpp"

namespace reference {

namespace fs = std::filesystem;

struct FormScene {
    cli_test::Model model;
    double px_per_mm = 20.0;
    std::string pose{};        ///< lines of [pose]
    std::string passes{};      ///< tables of the passes besides silhouette
    std::string more_model{};  ///< lines of [model]
    int samples = 4;
};

/// The command's pictures of it, and every sample traced.
struct SeenForm {
    cli_test::Rendered rendered;
    cli_test::ManifestCamera camera;
    SampleGrid grid;
    TracedPicture traced;

    cli_test::Picture read(const std::string& pass) const {
        return cli_test::read_picture(rendered.folder / (pass + ".png"));
    }
};

SeenForm see(const FormScene& form, const fs::path& folder, const std::string& name);

/// Open at both ends, its axis along y: radius r, length l, exact normals.
cli_test::Model cylinder(double r, double l, int around);
/// Radius of the ring R, of the tube r, about the z axis; exact normals.
cli_test::Model torus(double ring, double tube, int around_ring, int around_tube);

}  // namespace reference
