// What is said here about the importer was read in the source of Assimp 5.2.5 (code/AssetLib/*)
// and, where the package of test models has a file for it, seen on that file.

#include "model/conventions.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <fstream>
#include <string_view>

namespace rakelight {
namespace {

struct Convention {
    std::string_view importer;  ///< how the importer's name begins
    std::string_view format;
    std::string_view up;
    std::string_view up_reason;
    double mm_per_unit;  ///< 0: not known
    std::string_view unit_reason;
};

constexpr std::string_view turned = "the format has +z up; the importer turns it to +y";
constexpr std::string_view no_up = "common practice; the format states no up axis";
constexpr std::string_view no_unit = "the format states no unit";
constexpr std::string_view by_format = "convention of the format";

constexpr std::array conventions{
    // Metres and +y up: glTF 2.0 specification, section 3.4.
    Convention{"glTF2 ", "glTF 2.0", "+y", "stated by the format", 1000,
               "metres, stated by the format"},
    Convention{"glTF ", "glTF 1.0", "+y", "stated by the format", 1000,
               "metres, stated by the format"},
    Convention{"Stanford Polygon Library", "PLY", "+y", no_up, 0, no_unit},
    Convention{"Wavefront Object", "OBJ", "+y", no_up, 0, no_unit},
    Convention{"OFF ", "OFF", "+y", no_up, 0, no_unit},
    // A printer's plate is the xy plane; slicers read STL as millimetres.
    Convention{"Stereolithography", "STL", "+z", no_up, 1,
               "millimetres are common practice; the format states no unit"},
    // 3MF core specification, section 3.3: right-handed, z up from the plate; millimetre is the
    // default of the unit attribute, which the importer does not read.
    Convention{"3mf ", "3MF", "+z", "stated by the format", 1,
               "millimetres, the format's default; a unit stated in the file is not read"},
    Convention{"Additive manufacturing", "AMF", "+z", by_format, 1,
               "millimetres, the format's default"},
    // COLLADA 1.4 specification, asset: up_axis and unit. The importer applies both.
    Convention{"Collada ", "COLLADA", "+y", "the importer turns the file's up axis to +y", 1000,
               "the importer scales the file's unit to metres"},
    Convention{"Discreet 3DS", "3DS", "+y", turned, 0, no_unit},
    Convention{"ASE ", "ASE", "+y", turned, 0, no_unit},
    Convention{"Drawing Interchange", "DXF", "+y", turned, 0, no_unit},
    Convention{"Quake Mesh", "MDL", "+y", turned, 0, no_unit},
    Convention{"Quake II Mesh", "MD2", "+y", turned, 0, no_unit},
    Convention{"Quake III Mesh", "MD3", "+y", turned, 0, no_unit},
    Convention{"Doom 3", "MD5", "+y", turned, 0, no_unit},
    Convention{"Return To Castle", "MDC", "+y", turned, 0, no_unit},
    Convention{"Inter-Quake", "IQM", "+y", turned, 0, no_unit},
    Convention{"Industry Foundation", "IFC", "+y", turned, 1000,
               "the importer scales the file's unit to metres"},
    Convention{"Blender ", "BLEND", "+z", by_format, 1000, "metres, the format's default"},
    Convention{"Valve SMD", "SMD", "+z", by_format, 0, no_unit},
    // X3D and VRML97 standards: the standard unit is the metre, +y is up for the viewer.
    Convention{"Extensible 3D", "X3D", "+y", by_format, 1000, "metres, stated by the format"},
    Convention{"LightWave", "LWO", "+y", by_format, 1000, "metres, convention of the format"},
};

double amf_unit(std::string_view name) {
    if (name == "inch") return 25.4;
    if (name == "feet") return 304.8;
    if (name == "meter") return 1000.0;
    if (name == "micron") return 0.001;
    return name.starts_with("millimeter") ? 1.0 : 0.0;
}

// The importer drops the unit that an AMF file states in its first element (ISO/ASTM 52915). A
// zipped file shows no element here and keeps the default.
void read_amf_unit(const std::filesystem::path& file, ModelFacts& facts) {
    std::ifstream in(file, std::ios::binary);
    std::string head(4096, '\0');
    in.read(head.data(), static_cast<std::streamsize>(head.size()));
    head.resize(static_cast<std::size_t>(in.gcount()));
    const std::size_t element = head.find("<amf");
    if (element == std::string::npos) return;
    const std::string tag = head.substr(element, head.find('>', element) - element);
    const std::size_t unit = tag.find("unit=");
    if (unit == std::string::npos || unit + 6 > tag.size()) return;
    const std::size_t first = unit + 6;
    const double mm =
        amf_unit(std::string_view(tag).substr(first, tag.find(tag[unit + 5], first) - first));
    if (mm == 0.0) return;
    facts.mm_per_unit = mm;
    facts.unit_reason = "stated by the file";
}

// The importer does not tell one from the other.
constexpr std::string_view stated_or_default = "stated by the file, or by default of the format";

// An FBX file states its axes and its unit in centimetres; the importer applies neither.
void read_fbx_settings(const aiScene& scene, ModelFacts& facts) {
    facts.up = "+y";
    facts.up_reason = by_format;
    facts.mm_per_unit = 10.0;
    facts.unit_reason = "centimetres, the format's default";
    if (scene.mMetaData == nullptr) return;
    std::int32_t axis = 1, sign = 1;
    if (scene.mMetaData->Get("UpAxis", axis) && scene.mMetaData->Get("UpAxisSign", sign) &&
        axis >= 0 && axis <= 2) {
        facts.up = std::string(sign < 0 ? "-" : "+") + "xyz"[axis];
        facts.up_reason = stated_or_default;
    }
    float centimetres = 0.0f;
    if (scene.mMetaData->Get("UnitScaleFactor", centimetres) && std::isfinite(centimetres) &&
        centimetres > 0.0f) {
        facts.mm_per_unit = 10.0 * double{centimetres};
        facts.unit_reason = stated_or_default;
    }
}

std::string without_suffix(const std::string& name) {
    const std::size_t at = name.find(" Importer");
    return at == std::string::npos ? name : name.substr(0, at);
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
    }
    soup.facet_normals = facts.format == "STL";
}

void apply_conventions(const std::string& importer, const aiScene& scene,
                       const std::filesystem::path& file, Soup& soup) {
    apply_conventions(importer, soup);
    if (importer.find("FBX") != std::string::npos) {
        soup.facts.format = "FBX";
        read_fbx_settings(scene, soup.facts);
    }
    if (soup.facts.format == "AMF") read_amf_unit(file, soup.facts);
}

}  // namespace rakelight
