#include "model/readers/import_textures.hpp"

#include <assimp/GltfMaterial.h>
#include <assimp/ObjMaterial.h>
#include <assimp/material.h>
#include <assimp/mesh.h>
#include <assimp/scene.h>
#include <assimp/texture.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <string_view>

#include "error.hpp"
#include "model/readers/texture_files.hpp"
#include "model/readers/texture_planes.hpp"
#include "model/texture_span.hpp"
#include "printable.hpp"

namespace rakelight {
namespace {

using Place = std::array<double, 6>;  // as DetailMap::place

/// A picture as a material uses it.
struct Use {
    std::string name;  // the importer's path
    std::string what;  // for a user
    unsigned set = 0;  // of texture coordinates
    Wrap wrap_u = Wrap::repeat;
    Wrap wrap_v = Wrap::repeat;
    Place place{1, 0, 0, 0, 1, 0};
    double scale = 1.0;
    bool inverted = false;
    std::string beside{};  // folder of the file that names it, where it is not the model
};

Wrap wrap_of(const aiMaterial& material, const char* key, aiTextureType type) {
    int mode = aiTextureMapMode_Wrap;
    material.Get(key, type, 0, mode);
    if (mode == aiTextureMapMode_Mirror) return Wrap::mirror;
    return mode == aiTextureMapMode_Wrap ? Wrap::repeat : Wrap::clamp;
}

/// From the importer's own form, which turns about the picture's middle, back to what the glTF
/// file says (KHR_texture_transform: scale, then turn about the top left corner, then offset), and
/// from there to coordinates that run upwards.
Place gltf_place(const aiUVTransform& t) {
    const double angle = -double{t.mRotation}, c = std::cos(angle), s = std::sin(angle);
    const double sx = t.mScaling.x, sy = t.mScaling.y;
    const double x = t.mTranslation.x - 0.5 * sx * (1.0 - c + s);
    const double y = 0.5 * sy * (s + c - 1.0) + 1.0 - sy - t.mTranslation.y;
    return {c * sx, -s * sy, s * sy + x, s * sx, c * sy, 1.0 - c * sy - y};
}

/// Scaling, then a turn about the middle, then a shift, as the importer documents it.
Place plain_place(const aiUVTransform& t) {
    const double c = std::cos(double{t.mRotation}), s = std::sin(double{t.mRotation});
    const double sx = t.mScaling.x, sy = t.mScaling.y;
    return {c * sx, -s * sy, 0.5 - 0.5 * c + 0.5 * s + t.mTranslation.x,
            s * sx, c * sy,  0.5 - 0.5 * s - 0.5 * c + t.mTranslation.y};
}

bool is_usable(const Place& p) {
    for (const double v : p)
        if (!std::isfinite(v) || std::fabs(v) > 1e6) return false;
    return std::fabs(p[0] * p[4] - p[1] * p[3]) > 1e-12;
}

/// How a material library uses a picture. That places are scaled first is common practice: the
/// specification leaves the order open.
std::optional<Use> use_of(const std::optional<MtlMap>& map, std::string what) {
    if (!map) return std::nullopt;
    Use use{map->picture, std::move(what)};
    if (map->clamps) use.wrap_u = use.wrap_v = Wrap::clamp;
    const Place place{map->scale[0], 0, map->offset[0], 0, map->scale[1], map->offset[1]};
    if (is_usable(place)) use.place = place;
    use.scale = map->strength;
    use.beside = map->folder;
    return use;
}

std::optional<Use> use_of(const aiMaterial& material, aiTextureType type, std::string what,
                          bool is_gltf) {
    aiString name;
    if (material.Get(AI_MATKEY_TEXTURE(type, 0), name) != aiReturn_SUCCESS || name.length == 0)
        return std::nullopt;
    Use use{name.C_Str(), std::move(what)};
    int set = 0;
    material.Get(AI_MATKEY_UVWSRC(type, 0), set);
    use.set = static_cast<unsigned>(std::max(set, 0));
    use.wrap_u = wrap_of(material, _AI_MATKEY_MAPPINGMODE_U_BASE, type);
    use.wrap_v = wrap_of(material, _AI_MATKEY_MAPPINGMODE_V_BASE, type);
    aiUVTransform transform;
    if (material.Get(AI_MATKEY_UVTRANSFORM(type, 0), transform) == aiReturn_SUCCESS) {
        const Place place = is_gltf ? gltf_place(transform) : plain_place(transform);
        if (is_usable(place)) use.place = place;
    }
    int flags = 0;
    material.Get(AI_MATKEY_TEXFLAGS(type, 0), flags);
    use.inverted = (flags & aiTextureFlags_Invert) != 0;
    ai_real scale = 1.0F;
    if (material.Get(AI_MATKEY_GLTF_TEXTURE_SCALE(type, 0), scale) == aiReturn_SUCCESS ||
        material.Get(AI_MATKEY_OBJ_BUMPMULT(type, 0), scale) == aiReturn_SUCCESS)
        use.scale = std::isfinite(scale) ? std::clamp(double{scale}, -100.0, 100.0) : 1.0;
    return use;
}

std::optional<Use> relief_of(const aiMaterial& material, bool is_gltf) {
    constexpr std::array<std::pair<aiTextureType, const char*>, 4> types{
        {{aiTextureType_NORMALS, "normal map"},
         {aiTextureType_NORMAL_CAMERA, "normal map"},
         {aiTextureType_HEIGHT, "bump map"},
         {aiTextureType_DISPLACEMENT, "displacement map"}}};
    for (const auto& [type, what] : types)
        if (auto use = use_of(material, type, what, is_gltf)) return use;
    return std::nullopt;
}

std::optional<Use> relief_of(const MtlMaterial& material) {
    if (auto use = use_of(material.normal, "normal map")) return use;
    if (auto use = use_of(material.bump, "bump map")) return use;
    return use_of(material.displacement, "displacement map");
}

/// A picture that says where there is no surface.
struct CutOut {
    Use use;
    double cut_off = 0.5;
    double factor = 1.0;
    bool alpha_alone = true;    // a picture without alpha cuts nothing
    bool grey_first = false;    // before alpha
    bool may_be_glass = false;  // what is all below the cut-off is thin, not absent
};

std::optional<CutOut> gltf_cut_out(const aiMaterial& material) {
    aiString mode;
    material.Get(AI_MATKEY_GLTF_ALPHAMODE, mode);
    const std::string_view text = mode.C_Str();
    if (text != "MASK" && text != "BLEND") return std::nullopt;
    auto use = use_of(material, aiTextureType_BASE_COLOR, "cut-out", true);
    if (!use) use = use_of(material, aiTextureType_DIFFUSE, "cut-out", true);
    if (!use) return std::nullopt;
    CutOut cut{*use};
    cut.may_be_glass = text == "BLEND";
    if (cut.may_be_glass) return cut;
    ai_real number = 0.5F;
    if (material.Get(AI_MATKEY_GLTF_ALPHACUTOFF, number) == aiReturn_SUCCESS) cut.cut_off = number;
    aiColor4D colour(1.0F, 1.0F, 1.0F, 1.0F);
    if (material.Get(AI_MATKEY_BASE_COLOR, colour) == aiReturn_SUCCESS) cut.factor = colour.a;
    return cut;
}

// COLLADA 1.4.1 specification, <transparent opaque>, from memory: with A_ONE alpha is how opaque
// the surface is, with RGB_ZERO how dark the colour is. 1.5 adds A_ZERO and RGB_ONE. The importer
// states the opacity that white with an alpha of 1 has by that, and a colour where colour counts.
void read_collada_opaque(const aiMaterial& material, CutOut& cut) {
    ai_real opacity = 1.0F;
    aiColor4D colour;
    cut.use.inverted =
        material.Get(AI_MATKEY_OPACITY, opacity) == aiReturn_SUCCESS && opacity < 0.5F;
    cut.grey_first = material.Get(AI_MATKEY_COLOR_TRANSPARENT, colour) == aiReturn_SUCCESS;
}

std::optional<CutOut> cut_out_of(const aiMaterial& material, const std::string& format) {
    if (format.starts_with("glTF")) return gltf_cut_out(material);
    if (auto use = use_of(material, aiTextureType_OPACITY, "cut-out", false)) {
        CutOut cut{*use};
        cut.alpha_alone = false;
        if (format == "COLLADA") read_collada_opaque(material, cut);
        return cut;
    }
    int flags = 0;
    material.Get(AI_MATKEY_TEXFLAGS(aiTextureType_DIFFUSE, 0), flags);
    if ((flags & aiTextureFlags_UseAlpha) == 0) return std::nullopt;
    if (auto use = use_of(material, aiTextureType_DIFFUSE, "cut-out", false)) return CutOut{*use};
    return std::nullopt;
}

std::optional<CutOut> cut_out_of(const MtlMaterial& material) {
    auto use = use_of(material.cut_out, "cut-out");
    if (!use) return std::nullopt;
    CutOut cut{*use};
    cut.alpha_alone = false;
    return cut;
}

std::string shown(std::string_view text) {
    constexpr std::size_t longest = 300;
    return printable(text.size() > longest ? std::string(text.substr(0, longest)) + "..."
                                           : std::string(text));
}

PictureFile decode_embedded(const aiTexture& texture) {
    const auto* bytes = reinterpret_cast<const unsigned char*>(texture.pcData);
    if (texture.mHeight == 0) return read_picture({bytes, texture.mWidth});
    check_picture_size(texture.mWidth, texture.mHeight);
    PictureFile picture{texture.mWidth, texture.mHeight, 4, {}, {}};
    const std::size_t count = std::size_t{picture.width} * picture.height;
    picture.values.resize(4 * count);
    for (std::size_t i = 0; i < count; ++i) {
        const aiTexel& t = texture.pcData[i];
        const std::array<unsigned char, 4> channels{t.r, t.g, t.b, t.a};
        for (std::size_t c = 0; c < 4; ++c)
            picture.values[4 * i + c] = static_cast<std::uint16_t>(257 * channels[c]);
    }
    return picture;
}

/// M of a place is followed by the inverse of N's: the first on coordinates that N made.
Place after(const Place& m, const Place& n) {
    const double det = n[0] * n[4] - n[1] * n[3];
    const Place back{n[4] / det,  -n[1] / det, (n[1] * n[5] - n[4] * n[2]) / det,
                     -n[3] / det, n[0] / det,  (n[3] * n[2] - n[0] * n[5]) / det};
    return {m[0] * back[0] + m[1] * back[3],        m[0] * back[1] + m[1] * back[4],
            m[0] * back[2] + m[1] * back[5] + m[2], m[3] * back[0] + m[4] * back[3],
            m[3] * back[1] + m[4] * back[4],        m[3] * back[2] + m[4] * back[5] + m[5]};
}

}  // namespace

struct TextureImport::Work {
    const aiScene& scene;
    const std::filesystem::path& model;
    RecordingIo& io;
    const ReadingSettings& reading;
    const ObjLibraries& libraries;
    Soup& soup;
    bool is_gltf;

    struct Material {
        std::uint32_t detail = no_detail;
        unsigned set = 0;
        Place place{1, 0, 0, 0, 1, 0};  // of the vertices
    };
    std::map<unsigned, Material> materials;
    /// What a picture became, for all materials that have it.
    struct Relief {
        TextureFact fact;  // of no material
        bool from_normals = false;
        std::optional<std::uint32_t> slopes, heights;  // planes; none: it was not read
    };
    std::map<std::string, Relief> reliefs;  // by use

    /// A plane of heights that was made from slopes.
    struct Integrated {
        std::uint32_t plane;
        double size;  // of the span that it was made for
    };
    std::map<std::array<std::int64_t, 3>, Integrated> integrated;

    PlaneStore store() { return {soup.planes, soup.texels}; }

    static std::string subject_of(const TextureFact& fact) {
        const std::string of =
            fact.material.empty() ? "" : " of material \"" + fact.material + "\"";
        return "the " + fact.use + of + ", \"" + fact.name + "\"";
    }

    void warn(const TextureFact& fact) {
        std::string text = subject_of(fact) + ", ";
        if (fact.found.empty()) {
            text += "was not found; tried ";
            for (std::size_t i = 0; i < fact.tried.size(); ++i)
                text += (i > 0 ? ", \"" : "\"") + fact.tried[i] + "\"";
            text += "; put it beside the model";
        } else {
            text += "is not used: " + fact.state;
        }
        soup.facts.warnings.push_back(text);
    }

    /// The picture, or nothing with a warning.
    std::optional<PictureFile> read(const Use& use, TextureFact& fact) {
        try {
            PictureFile picture;
            if (const aiTexture* texture = scene.GetEmbeddedTexture(use.name.c_str())) {
                fact.found = "embedded";
                if (use.name.starts_with('*')) fact.name = "embedded " + use.name.substr(1);
                picture = decode_embedded(*texture);
            } else {
                FoundPicture file = find_picture(use.name, model, io, use.beside);
                fact.tried = std::move(file.tried);
                for (std::string& path : fact.tried) path = shown(path);
                fact.found = shown(file.path);
                if (!file.found) {
                    fact.state = "missing";
                    return std::nullopt;
                }
                picture = read_picture(file.bytes);
            }
            fact.width = picture.width;
            fact.height = picture.height;
            fact.state = "read";
            fact.tried.clear();
            if (!picture.note.empty())
                soup.facts.warnings.push_back(subject_of(fact) + ": " + shown(picture.note));
            return picture;
        } catch (const NoRoomForPicture& reason) {
            // Without it the model would look different on a smaller machine.
            throw Error(ExitCode::bad_model, subject_of(fact) + ": " + reason.what());
        } catch (const UnreadablePicture& reason) {
            fact.state = shown(reason.what());
            if (fact.found.empty()) fact.found = fact.name;
            return std::nullopt;
        }
    }

    /// Notes a use once; warns where it came to nothing.
    void note(const TextureFact& fact) {
        soup.facts.textures.push_back(fact);
        if (fact.state != "read") warn(fact);
    }

    // Places on pictures are not carried over to the smooth surface.
    void note_left_out(const Use& use, const std::string& material) {
        TextureFact fact{shown(use.name), use.what, material, "the model", {}, 0, 0, {}};
        fact.state = "the surface is subdivided, and pictures do not follow it";
        note(fact);
    }

    Relief read_relief(const Use& use);
    void add_relief(const Use& use, const std::string& material, SurfaceDetail& detail);
    void add_mask(const CutOut& cut, const std::string& material, SurfaceDetail& detail);
    Material material_of(const aiMesh& mesh);
    Material read_material(unsigned number);
    std::uint32_t heights_of(std::uint32_t slopes, const MapSpan& span);
    void integrate(std::uint32_t number);
};

TextureImport::Work::Relief TextureImport::Work::read_relief(const Use& use) {
    Relief relief;
    relief.fact = {shown(use.name), use.what, {}, {}, {}, 0, 0, {}};
    const std::optional<PictureFile> picture = read(use, relief.fact);
    if (!picture) return relief;
    // Programs put the one kind into the other's slot: the picture says what it is.
    relief.from_normals = looks_like_normals(*picture) ||
                          (use.what == "normal map" && looks_like_normal_pair(*picture));
    if (relief.from_normals)
        relief.fact.use = "normal map";
    else if (use.what == "normal map")
        relief.fact.use = "bump map";
    PlaneStore planes_of_soup = store();
    if (relief.from_normals) {
        const double scale = is_gltf ? use.scale : 1.0;
        relief.slopes =
            planes_of_soup.add(slopes_from_normals(*picture, scale, reading.green_down));
        return relief;
    }
    RawPlane heights = heights_from_picture(*picture);
    if (use.inverted)
        for (float& h : heights.values) h = -h;
    relief.slopes = planes_of_soup.add(slopes_from_heights(heights, use.wrap_u, use.wrap_v));
    relief.heights = planes_of_soup.add(std::move(heights));
    return relief;
}

void TextureImport::Work::add_relief(const Use& use, const std::string& material,
                                     SurfaceDetail& detail) {
    const std::string key = use.what + "|" + std::to_string(use.scale) + "|" +
                            std::to_string(static_cast<int>(use.wrap_u)) +
                            std::to_string(static_cast<int>(use.wrap_v)) +
                            std::to_string(use.inverted) + use.beside + "|" + use.name;
    // Materials share pictures, and to read one takes longer than all else of it.
    auto known = reliefs.find(key);
    if (known == reliefs.end()) known = reliefs.emplace(key, read_relief(use)).first;
    const Relief& relief = known->second;
    TextureFact fact = relief.fact;
    fact.material = material;
    note(fact);
    if (!relief.slopes) return;
    detail.from_normals = relief.from_normals;
    detail.strength = relief.from_normals && is_gltf ? 1.0 : use.scale;
    const std::array<double, 6> as_it_is{1, 0, 0, 0, 1, 0};
    detail.slopes = DetailMap{*relief.slopes, use.wrap_u, use.wrap_v, as_it_is};
    if (relief.heights)
        detail.heights = DetailMap{*relief.heights, use.wrap_u, use.wrap_v, as_it_is};
}

void TextureImport::Work::add_mask(const CutOut& cut, const std::string& material,
                                   SurfaceDetail& detail) {
    TextureFact fact{shown(cut.use.name), cut.use.what, material, {}, {}, 0, 0, {}};
    const std::optional<PictureFile> picture = read(cut.use, fact);
    if (!picture) return note(fact);
    // Colours say nothing of opacity: where they were to, their picture's alpha is meant.
    const bool use_alpha = picture->has_alpha() && (!cut.grey_first || is_coloured(*picture));
    const bool inverted = cut.use.inverted && !(use_alpha && cut.grey_first);
    if (!use_alpha && !cut.alpha_alone && is_coloured(*picture)) {
        fact.state = "it is a colour picture without alpha; expected grey, or alpha";
        return note(fact);
    }
    if (!use_alpha && cut.alpha_alone && cut.factor >= cut.cut_off) return;  // opaque all over
    RawPlane mask = use_alpha || !cut.alpha_alone
                        ? mask_from_picture(*picture, use_alpha, inverted, cut.factor)
                        : RawPlane{1, 1, 1, {static_cast<float>(cut.factor)}};
    const auto off = static_cast<float>(cut.cut_off);
    const auto below = [&](float v) { return v < off; };
    if (std::none_of(mask.values.begin(), mask.values.end(), below)) return;
    note(fact);
    if (cut.may_be_glass && std::all_of(mask.values.begin(), mask.values.end(), below)) return;
    DetailMap map{0, cut.use.wrap_u, cut.use.wrap_v, {1, 0, 0, 0, 1, 0}};
    map.plane = store().add(std::move(mask));
    detail.mask = map;
    detail.cut_off = cut.cut_off;
}

TextureImport::Work::Material TextureImport::Work::read_material(unsigned number) {
    Material material;
    const aiMaterial& from = *scene.mMaterials[number];
    aiString name;
    from.Get(AI_MATKEY_NAME, name);
    const MtlMaterial* const mtl = libraries.find(name.C_Str());
    std::optional<Use> relief = mtl != nullptr ? relief_of(*mtl) : relief_of(from, is_gltf);
    std::optional<CutOut> cut =
        mtl != nullptr ? cut_out_of(*mtl) : cut_out_of(from, soup.facts.format);
    if (!relief && !cut) return material;
    const std::string label = shown(name.C_Str());
    if (reading.cage.rule != CageRule::none) {
        for (const Use* use : {relief ? &*relief : nullptr, cut ? &cut->use : nullptr})
            if (use != nullptr) note_left_out(*use, label);
        return material;
    }
    SurfaceDetail detail;
    if (relief) add_relief(*relief, label, detail);
    material.set = detail.slopes ? relief->set : cut ? cut->use.set : 0;
    material.place = detail.slopes ? relief->place : cut ? cut->use.place : material.place;
    if (cut && cut->use.set != material.set) {
        TextureFact fact{shown(cut->use.name), cut->use.what, label, "the model", {}, 0, 0, {}};
        fact.state =
            "it lies by a second set of texture coordinates, beside the first that is read";
        note(fact);
    } else if (cut) {
        add_mask(*cut, label, detail);
        if (detail.mask) detail.mask->place = after(cut->use.place, material.place);
    }
    if (!detail.slopes && !detail.mask) return material;
    material.detail = static_cast<std::uint32_t>(soup.details.size());
    soup.details.push_back(detail);
    return material;
}

/// Heights of a normal map, which need the surface that it lies on.
/// Heights grow with the span as a whole; only how its sides stand to each other makes another map,
/// here in steps of half a percent.
std::uint32_t TextureImport::Work::heights_of(std::uint32_t slopes_plane, const MapSpan& span) {
    const double size = std::sqrt(span.u * span.v);
    const double turns = 128.0 * std::log2(span.u / span.v);
    const std::int64_t ratio = std::isfinite(turns) ? std::llround(turns) : 0;
    const std::array<std::int64_t, 3> key{slopes_plane, ratio, span.tiles ? 1 : 0};
    if (const auto known = integrated.find(key); known != integrated.end()) {
        TexturePlane heights = soup.planes[known->second.plane];
        heights.scale *= size / known->second.size;
        soup.planes.push_back(heights);
        return static_cast<std::uint32_t>(soup.planes.size() - 1);
    }
    const TexturePlane plane = soup.planes[slopes_plane];
    RawPlane slopes{plane.width, plane.height, 2, {}};
    slopes.values.resize(std::size_t{plane.width} * plane.height * 2);
    for (std::size_t i = 0; i < slopes.values.size(); ++i)
        slopes.values[i] = static_cast<float>(soup.texels[plane.first + i] * plane.scale);
    const std::uint32_t heights = store().add(heights_from_slopes(std::move(slopes), span));
    integrated[key] = {heights, size};
    return heights;
}

void TextureImport::Work::integrate(std::uint32_t number) {
    SurfaceDetail& detail = soup.details[number];
    if (!detail.from_normals || !detail.slopes) return;
    const MapSpan span = span_of(soup, number, *detail.slopes);
    detail.heights = detail.slopes;
    detail.heights->plane = heights_of(detail.slopes->plane, span);
}

TextureImport::TextureImport(const aiScene& scene, const std::filesystem::path& model,
                             RecordingIo& io, const ReadingSettings& reading,
                             const ObjLibraries& libraries, Soup& soup)
    : work_(new Work{scene,
                     model,
                     io,
                     reading,
                     libraries,
                     soup,
                     soup.facts.format.starts_with("glTF"),
                     {},
                     {},
                     {}}) {}

TextureImport::~TextureImport() = default;

TextureImport::Work::Material TextureImport::Work::material_of(const aiMesh& mesh) {
    if (!reading.maps || mesh.mMaterialIndex >= scene.mNumMaterials || mesh.mNumFaces == 0)
        return {};
    auto known = materials.find(mesh.mMaterialIndex);
    if (known == materials.end())
        known = materials.emplace(mesh.mMaterialIndex, read_material(mesh.mMaterialIndex)).first;
    return known->second;
}

bool TextureImport::has_detail(const aiMesh& mesh) {
    return work_->material_of(mesh).detail != no_detail;
}

std::uint32_t TextureImport::add(const aiMesh& mesh, std::size_t first_vertex) {
    Work& work = *work_;
    const Work::Material material = work.material_of(mesh);
    if (material.detail == no_detail) return no_detail;
    if (material.set >= AI_MAX_NUMBER_OF_TEXTURECOORDS || !mesh.HasTextureCoords(material.set)) {
        work.soup.facts.warnings.push_back(
            "a mesh has pictures in its material, but no texture coordinates for them: it goes "
            "without; unwrap it and export it again");
        return no_detail;
    }
    Array<glm::vec2>& places = work.soup.places;
    const std::size_t begin = places.size();
    places.resize(first_vertex + mesh.mNumVertices);
    std::fill(places.begin() + static_cast<std::ptrdiff_t>(std::min(begin, first_vertex)),
              places.end(), glm::vec2(0.0F));
    const Place& p = material.place;
    for (unsigned i = 0; i < mesh.mNumVertices; ++i) {
        const aiVector3D& t = mesh.mTextureCoords[material.set][i];
        const glm::dvec2 at(p[0] * t.x + p[1] * t.y + p[2], p[3] * t.x + p[4] * t.y + p[5]);
        const bool sound = std::fabs(at.x) < 1e6 && std::fabs(at.y) < 1e6;  // not for NaN
        places[first_vertex + i] = sound ? glm::vec2(at) : glm::vec2(0.0F);
    }
    return material.detail;
}

void TextureImport::end() {
    Work& work = *work_;
    if (work.soup.places.empty()) {
        // Nothing uses what was read.
        work.soup.details.clear();
        work.soup.planes.clear();
        work.soup.texels.clear();
        return;
    }
    const std::size_t begin = work.soup.places.size();
    work.soup.places.resize(work.soup.positions.size());
    std::fill(work.soup.places.begin() + static_cast<std::ptrdiff_t>(begin), work.soup.places.end(),
              glm::vec2(0.0F));
    for (std::uint32_t i = 0; i < work.soup.details.size(); ++i) work.integrate(i);
}

}  // namespace rakelight
