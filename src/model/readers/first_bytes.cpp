#include "model/readers/first_bytes.hpp"

#include <algorithm>
#include <array>
#include <cstdint>
#include <string>
#include <system_error>
#include <vector>

#include "error.hpp"
#include "model/mapped_file.hpp"
#include "model/readers/text_scan.hpp"
#include "model/readers/zip_package.hpp"
#include "printable.hpp"

namespace rakelight {
namespace {

std::string shortened(const std::string& name) {
    constexpr std::size_t longest = 100;
    return printable(name.substr(0, longest)) + (name.size() > longest ? "..." : "");
}

constexpr std::size_t start_bytes = 512;

/// A format that is told by its first bytes alone.
struct Kind {
    std::string_view magic;
    std::string_view name;        ///< "it is ..."
    std::string_view extensions;  ///< parted by blanks, of files that may begin so; empty: none
    std::string_view advice;      ///< empty: to rename the file, to the first of its extensions
};

constexpr std::string_view unpack = "unpack it and name the model that is in it";

// PLY: G. Turk 1994. glTF 2.0, section 4.4.2. gzip: RFC 1952, section 2.3.1. Zstandard: RFC 8878,
// section 3.1.1. IFC and STEP: ISO 10303-21, section 5. The others from memory.
constexpr std::array kinds{
    Kind{"ply\n", "PLY", ".ply", ""},
    Kind{"ply\r", "PLY", ".ply", ""},
    Kind{"glTF", "binary glTF", ".glb", ""},
    Kind{"Kaydara FBX Binary", "FBX", ".fbx", ""},
    Kind{"BLENDER", "BLEND", ".blend", ""},
    Kind{"\x1F\x8B", "a file packed by gzip", ".blend .wrz .x3dz", unpack},
    Kind{"7z\xBC\xAF\x27\x1C", "a 7z archive", "", unpack},
    Kind{"Rar!\x1A\x07", "a RAR archive", "", unpack},
    Kind{"version https://git-lfs", "a pointer of Git LFS in place of the model itself", "",
         "fetch the file that it stands for (git lfs pull)"},
};

bool is_listed(std::string_view extension, std::string_view list) {
    while (!list.empty()) {
        const std::string_view one = list.substr(0, list.find(' '));
        if (one == extension) return true;
        list.remove_prefix(std::min(list.size(), one.size() + 1));
    }
    return false;
}

[[noreturn]] void refuse(std::string_view found, std::string_view advice) {
    throw Error(ExitCode::bad_model, std::string(found) + "; " + std::string(advice));
}

std::string named(std::string_view extension) {
    return extension.empty() ? "its name has no extension"
                             : "its extension is \"" + std::string(extension) + "\"";
}

[[noreturn]] void refuse_name(std::string_view what, std::string_view extension,
                              std::string_view right) {
    refuse("it is " + std::string(what) + ", but " + named(extension),
           "expected " + std::string(right) + "; rename the file");
}

void check_kinds(std::string_view bytes, std::string_view extension) {
    for (const Kind& kind : kinds) {
        if (!bytes.starts_with(kind.magic) || is_listed(extension, kind.extensions)) continue;
        if (kind.advice.empty()) refuse_name(kind.name, extension, kind.extensions);
        refuse("it is " + std::string(kind.name), kind.advice);
    }
}

// ---------------------------------------------------------------------------- archives

bool is_model_name(const std::string& name) {
    constexpr std::string_view models =
        ".ply .stl .obj .gltf .glb .fbx .3mf .dae .zae .3ds .off .amf .blend .x3d .dxf .lwo .lxo "
        ".ifc .ogex .ase .ac .b3d .ms3d .x .xgl .cob .nff";
    const std::string_view hidden = "__MACOSX/";  // copies of names, without the models
    return !name.starts_with(hidden) &&
           is_listed(lower(std::filesystem::path(name).extension().string()), models);
}

/// Empty when the archive is damaged: the file is no less an archive.
std::vector<std::string> names_in(std::string_view archive) {
    try {
        return ZipPackage(archive).names();
    } catch (const Error&) {
        return {};
    }
}

[[noreturn]] void refuse_archive(const std::vector<std::string>& names) {
    constexpr std::size_t most_told = 3;
    std::string told;
    std::size_t models = 0;
    for (const std::string& name : names)
        if (is_model_name(name) && ++models <= most_told)
            told += (models == 1 ? " \"" : ", \"") + shortened(name) + "\"";
    if (models == 0)
        refuse("it is a zip archive, and no model is found in it",
               "unpack it and see what it holds");
    if (models > most_told) told += " and " + std::to_string(models - most_told) + " more";
    refuse("it is a zip archive with" + told, "unpack it and name the model");
}

void check_archive(std::string_view bytes, std::string_view extension) {
    // Formats that are zip archives themselves; USDZ is refused by its name.
    if (!begins_zip(bytes) || is_listed(extension, ".3mf .amf .zae .pk3 .ifczip .usdz")) return;
    const std::vector<std::string> names = names_in(bytes);
    // Where a 3MF package usually has its model (3MF Core Specification, appendix C).
    const bool is_3mf = std::any_of(names.begin(), names.end(), [](const std::string& name) {
        return lower(name) == "3d/3dmodel.model";
    });
    if (is_3mf) refuse_name("3MF", extension, ".3mf");
    refuse_archive(names);
}

// ---------------------------------------------------------------------------- kinds of a format

// glTF 2.0, section 4.4.2: magic, version and the length of the whole, little-endian.
void check_glb(std::string_view bytes) {
    if (!bytes.starts_with("glTF")) return;
    const auto number_at = [&](std::size_t at) {
        std::uint32_t number = 0;
        for (std::size_t k = 4; k-- > 0;)
            number = number << 8 | static_cast<unsigned char>(bytes[at + k]);
        return number;
    };
    if (bytes.size() >= 12 && number_at(4) != 2) return;
    if (bytes.size() >= 12 && number_at(8) <= bytes.size()) return;
    refuse("it is cut short: it has " + std::to_string(bytes.size()) + " bytes" +
               (bytes.size() < 12
                    ? ", expected a header of 12"
                    : " of the " + std::to_string(number_at(8)) + " that its header states"),
           "download or export it again");
}

void check_gltf_text(std::string_view bytes, std::string_view extension) {
    if (extension != ".glb") return;
    const std::size_t first = bytes.find_first_not_of(" \t\r\n");
    if (first == std::string_view::npos || bytes[first] != '{') return;
    refuse_name("glTF as text", extension, ".gltf");
}

// What is exchanged between programs for construction; of it, the importer reads what is of
// buildings.
void check_step(std::string_view bytes, std::string_view extension) {
    if (!bytes.starts_with("ISO-10303-21;")) return;
    constexpr std::size_t longest_head = 1 << 16;
    const std::string_view head = bytes.substr(0, longest_head);
    const std::size_t schema = head.find("FILE_SCHEMA");
    if (schema == std::string_view::npos) return;
    const std::string_view list = head.substr(schema, head.find(';', schema) - schema);
    if (list.find("IFC") == std::string_view::npos)
        refuse("it is STEP, which holds surfaces by their formulas and not as triangles",
               "export the model as STL, 3MF or OBJ, fine enough for its size");
    if (!is_listed(extension, ".ifc .step .stp")) refuse_name("IFC", extension, ".ifc");
}

void check_zstandard(std::string_view bytes, std::string_view extension) {
    if (!bytes.starts_with("\x28\xB5\x2F\xFD")) return;
    if (extension == ".blend")
        refuse("it is BLEND packed by Zstandard, which is not taken",
               "save it without compression, or export the model as glTF or OBJ");
    refuse("it is a file packed by Zstandard", unpack);
}

// Object File Format: "OFF BINARY" ends the line of the keyword (from memory).
void check_binary_off(std::string_view bytes, std::string_view extension) {
    if (extension != ".off") return;
    const std::string_view line = bytes.substr(0, bytes.find_first_of("\r\n"));
    if (line.size() < start_bytes && line.find("OFF BINARY") != std::string_view::npos)
        refuse("it is binary OFF, which is not taken", "export the model as text OFF, PLY or STL");
}

void check_web_page(std::string_view bytes) {
    const std::size_t first = bytes.substr(0, start_bytes).find_first_not_of(" \t\r\n\xEF\xBB\xBF");
    if (first == std::string_view::npos) return;
    const std::string start = lower(std::string(bytes.substr(first, 15)));
    if (start.starts_with("<!doctype html") || start.starts_with("<html"))
        refuse("it is a web page, as some downloads give in place of the file",
               "look at it in a browser, and download the model again");
}

}  // namespace

void check_first_bytes(std::string_view bytes, std::string_view extension) {
    check_kinds(bytes, extension);
    check_archive(bytes, extension);
    check_glb(bytes);
    check_gltf_text(bytes, extension);
    check_step(bytes, extension);
    check_zstandard(bytes, extension);
    check_binary_off(bytes, extension);
    check_web_page(bytes);
}

void check_first_bytes(const std::filesystem::path& file) {
    try {
        const MappedFile mapped(file);
        check_first_bytes(mapped.bytes(), lower(file.extension().string()));
    } catch (const std::system_error&) {
        // The readers will say why.
    }
}

}  // namespace rakelight
