// What is said here about the importer was read in the source of Assimp 5.2.5 (code/AssetLib/*)
// and, where the package of test models has a file for it, seen on that file. Conventions without a
// specification beside them are from memory of the format's own documentation.

#include "model/readers/conventions.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>
#include <cstdint>
#include <limits>
#include <optional>
#include <string_view>

#include "model/readers/stated.hpp"
#include "model/readers/zip_package.hpp"

namespace rakelight {
namespace {

struct Convention {
    std::string_view importer;  ///< how the importer's name begins
    std::string_view format;
    std::string_view up;
    std::string_view up_reason;
    double mm_per_unit;  ///< 0: not known
    std::string_view unit_reason;
    std::string_view front = {};  ///< empty: the usual one for up
};

constexpr std::string_view turned = "the format has +z up; the importer turns it to +y";
constexpr std::string_view no_up = "common practice; the format states no up axis";
constexpr std::string_view no_unit = "the format states no unit";
constexpr std::string_view by_format = "convention of the format";
constexpr std::string_view metres_stated = "metres, stated by the format";
constexpr std::string_view metres = "metres, convention of the format";

constexpr std::array conventions{
    // glTF 2.0 specification, section 3.4: metres, +y up, the front of an asset faces +z.
    Convention{"glTF2 ", "glTF 2.0", "+y", "stated by the format", 1000, metres_stated},
    Convention{"glTF ", "glTF 1.0", "+y", "stated by the format", 1000, metres_stated},
    Convention{"Stanford Polygon Library", "PLY", "+y", no_up, 0, no_unit},
    Convention{"Wavefront Object", "OBJ", "+y", no_up, 0, no_unit},
    Convention{"OFF ", "OFF", "+y", no_up, 0, no_unit},
    Convention{"Raw ", "RAW", "+y", no_up, 0, no_unit},
    // A printer's plate is the xy plane; slicers read STL as millimetres.
    Convention{"Stereolithography", "STL", "+z", no_up, 1,
               "millimetres are common practice; the format states no unit"},
    // 3MF core specification, section 3.3: right-handed, z up from the plate; millimetre is the
    // default of the unit attribute.
    Convention{"3mf ", "3MF", "+z", "stated by the format", 1, "millimetres, the format's default"},
    Convention{"Additive manufacturing", "AMF", "+z", by_format, 1,
               "millimetres, the format's default"},
    // COLLADA 1.4 specification, asset: up_axis and unit. The importer applies both.
    Convention{"Collada ", "COLLADA", "+y", "the importer turns the file's up axis to +y", 1000,
               "the importer scales the file's unit to metres"},
    Convention{"Discreet 3DS", "3DS", "+y", turned, 0, no_unit},
    Convention{"ASE ", "ASE", "+y", turned, 0, no_unit},
    Convention{"Drawing Interchange", "DXF", "+y", turned, 0, "the file states no unit"},
    // In these the games' creatures look along +x, and the importer's turn leaves x where it is.
    Convention{"Quake II Mesh", "MD2", "+y", turned, 0, no_unit, "+x"},
    Convention{"Quake III Mesh", "MD3", "+y", turned, 0, no_unit, "+x"},
    Convention{"Doom 3", "MD5", "+y", turned, 0, no_unit, "+x"},
    Convention{"Inter-Quake", "IQM", "+y", turned, 0, no_unit, "+x"},
    Convention{"Quake Mesh", "MDL", "+y", turned, 0, no_unit},
    Convention{"Return To Castle", "MDC", "+y", turned, 0, no_unit},
    Convention{"Industry Foundation", "IFC", "+y", turned, 1000,
               "the importer scales the file's unit to metres"},
    Convention{"Blender ", "BLEND", "+z", by_format, 1000, "metres, the format's default"},
    Convention{"Valve SMD", "SMD", "+z", by_format, 0, no_unit},
    // X3D, ISO/IEC 19775-1, section 4.3.6: metres, +y is up for the viewer.
    Convention{"Extensible 3D", "X3D", "+y", by_format, 1000, metres_stated},
    Convention{"LightWave Scene", "LWS", "+y", by_format, 1000, metres},
    Convention{"LightWave", "LWO", "+y", by_format, 1000, metres},
    // Open Game Engine Exchange specification, Metric: z and metres where a file states nothing.
    Convention{"Open Game Engine", "OpenGEX", "+z", "the format's default", 1000,
               "metres, the format's default"},
    Convention{"AC3D", "AC3D", "+y", by_format, 0, no_unit},
    Convention{"BlitzBasic", "B3D", "+y", by_format, 0, no_unit},
    Convention{"Direct3D", "X", "+y", by_format, 0, no_unit},
    Convention{"Irrlicht Scene", "IRR", "+y", by_format, 0, no_unit},
    Convention{"Irrlicht Mesh", "IRRMESH", "+y", by_format, 0, no_unit},
    Convention{"Milkshape", "MS3D", "+y", by_format, 0, no_unit},
    Convention{"MMD ", "PMX", "+y", by_format, 0, no_unit},
    Convention{"Ogre3D", "Ogre", "+y", by_format, 0, no_unit},
    Convention{"Silo", "SIB", "+y", by_format, 0, no_unit},
    Convention{"TrueSpace", "COB", "+z", by_format, 0, no_unit},
    Convention{"Quick3D", "Q3D", "+z", no_up, 0, no_unit},
    Convention{"3D GameStudio Heightmap", "HMP", "+z", "the heights of the terrain", 0, no_unit},
    Convention{"Terragen", "TER", "+z", "the heights of the terrain", 0, no_unit},
    Convention{"XGL ", "XGL", "+z", no_up, 0, no_unit},
    Convention{"Neutral File", "NFF", "+z", no_up, 0, no_unit},
    Convention{"Unreal", "3D", "-z", "the format has +z up; the importer mirrors it to -z", 0,
               no_unit},
};

/// One of the three axes that an FBX file's settings name: its number and its direction.
struct FbxAxis {
    std::int32_t axis = 0, sign = 1;
    aiVector3D vector() const {
        aiVector3D v;
        v[static_cast<unsigned>(axis)] = sign < 0 ? -1.0f : 1.0f;
        return v;
    }
    std::string name() const { return std::string(sign < 0 ? "-" : "+") + "xyz"[axis]; }
};

std::optional<FbxAxis> fbx_axis(const aiScene& scene, const std::string& key) {
    FbxAxis found;
    if (scene.mMetaData == nullptr || !scene.mMetaData->Get(key, found.axis) ||
        !scene.mMetaData->Get(key + "Sign", found.sign) || found.axis < 0 || found.axis > 2)
        return std::nullopt;
    return found;
}

/// Right, up and to the viewer, where the three are all there and at right angles.
struct FbxAxes {
    FbxAxis right, up, front;
    bool left_handed() const { return (right.vector() ^ up.vector()) * front.vector() < 0.0f; }
};

std::optional<FbxAxes> fbx_axes(const aiScene& scene) {
    const auto right = fbx_axis(scene, "CoordAxis"), up = fbx_axis(scene, "UpAxis"),
               front = fbx_axis(scene, "FrontAxis");
    if (!right || !up || !front) return std::nullopt;
    if (right->axis == up->axis || up->axis == front->axis || front->axis == right->axis)
        return std::nullopt;
    return FbxAxes{*right, *up, *front};
}

/// The number that a float is the nearest one to: 2.54 for 2.5399999.
double as_written(float value) {
    std::array<char, 32> digits{};
    const auto end = std::to_chars(digits.data(), digits.data() + digits.size(), value).ptr;
    double number = 0.0;
    std::from_chars(digits.data(), end, number);
    return number;
}

// An FBX file states its axes and its unit in centimetres; the importer applies neither, and passes
// on its own values where the file has none.
void read_fbx_settings(const aiScene& scene, std::string_view text, ModelFacts& facts) {
    facts.up = "+y";
    facts.up_reason = "the format's default";
    facts.mm_per_unit = 10.0;
    facts.unit_reason = "centimetres, the format's default";
    const auto up = fbx_axis(scene, "UpAxis");
    if (up && text.find("UpAxis") != std::string_view::npos) {
        facts.up = up->name();
        facts.up_reason = "stated by the file";
        if (const auto axes = fbx_axes(scene)) {
            facts.front = axes->front.name();
            facts.front_reason = "stated by the file";
            if (axes->left_handed())
                facts.up_reason += "; its axes are left-handed: the model is mirrored to match";
        }
    }
    float centimetres = 0.0f;
    if (text.find("UnitScaleFactor") != std::string_view::npos && scene.mMetaData != nullptr &&
        scene.mMetaData->Get("UnitScaleFactor", centimetres) && std::isfinite(centimetres) &&
        centimetres > 0.0f) {
        facts.mm_per_unit = 10.0 * as_written(centimetres);
        facts.unit_reason = "stated by the file";
    }
}

std::string start_of_text(const std::filesystem::path& file, RecordingIo& io) {
    constexpr std::size_t enough = 256 << 10;
    std::string start = io.start_of(file, enough);
    if (!begins_zip(start)) return start;
    auto packed = read_packed(io.start_of(file, std::numeric_limits<std::size_t>::max()), ".dae");
    return packed.value_or("").substr(0, enough);
}

std::string without_suffix(const std::string& name) {
    const std::size_t at = name.find(" Importer");
    return at == std::string::npos ? name : name.substr(0, at);
}

bool is_fbx(const std::string& importer) {
    return importer.find("FBX") != std::string::npos;
}

}  // namespace

void apply_conventions(const std::string& importer, Soup& soup) {
    ModelFacts& facts = soup.facts;
    facts.format = without_suffix(importer);
    facts.up = "+y";
    facts.up_reason = "common practice; nothing is known about the format";
    facts.mm_per_unit = 0.0;
    facts.unit_reason = "nothing is known about the format";
    const auto found = std::find_if(conventions.begin(), conventions.end(), [&](const auto& c) {
        return importer.starts_with(c.importer);
    });
    if (found != conventions.end()) {
        facts.format = found->format;
        facts.up = found->up;
        facts.up_reason = found->up_reason;
        facts.mm_per_unit = found->mm_per_unit;
        facts.unit_reason = found->unit_reason;
        facts.front = found->front;
        if (!found->front.empty()) facts.front_reason = by_format;
    }
    // A BLEND file's normals are those of points, whatever of it is meant to be flat; which that
    // is, the importer does not pass on.
    soup.facet_normals = facts.format == "STL" || facts.format == "BLEND";
}

void apply_conventions(const std::string& importer, const aiScene& scene,
                       const std::filesystem::path& file, RecordingIo& io, Soup& soup) {
    apply_conventions(importer, soup);
    const std::string text = start_of_text(file, io);
    if (is_fbx(importer)) {
        soup.facts.format = "FBX";
        read_fbx_settings(scene, text, soup.facts);
    }
    apply_stated(soup.facts.format, text, soup.facts);
}

aiMatrix4x4 model_from_file(const aiScene& scene) {
    aiMatrix4x4 m;
    const auto axes = fbx_axes(scene);
    if (axes && axes->left_handed())
        m[static_cast<unsigned>(axes->right.axis)][axes->right.axis] = -1.0f;
    return m;
}

}  // namespace rakelight
