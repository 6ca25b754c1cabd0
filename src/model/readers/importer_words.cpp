#include "model/readers/importer_words.hpp"

#include <algorithm>
#include <array>
#include <assimp/DefaultLogger.hpp>
#include <assimp/LogStream.hpp>
#include <functional>
#include <string_view>

#include "model/readers/text_scan.hpp"
#include "scene/words.hpp"

namespace rakelight {
namespace {

namespace fs = std::filesystem;

/// What was found, and what to do about it.
struct Words {
    std::string found;
    std::string advice =
        "expected a sound file of the kind that its extension says; export the "
        "model again, or as another format";
};

bool has(std::string_view text, std::string_view part) {
    return text.find(part) != std::string_view::npos;
}

constexpr std::string_view other_format = "export the model as another format, such as glTF or OBJ";

/// A fault that the importer says nothing useful of, told by its words and the file's start.
struct Known {
    std::string_view extension;  ///< empty: any
    std::string_view reason;     ///< part of what it says
    bool (*matches)(std::string_view start);
    std::string_view found;
    std::string_view advice;
};

bool any_start(std::string_view) {
    return true;
}

// glTF 2.0 specification, section 4.4.2: magic, then the version, little-endian. Version 1 was an
// extension that the importer does not have.
bool is_first_glb(std::string_view start) {
    return start.starts_with(std::string_view("glTF\x01\0\0\0", 8));
}

// An IFF file: FORM, a length, its kind.
bool is_first_lwo(std::string_view start) {
    return start.starts_with("FORM") && start.size() > 11 && start.substr(8, 4) == "LWOB";
}

// The magic ends with a zero byte. Transfers that took the file for text changed it.
bool is_spoilt_fbx(std::string_view start) {
    return start.starts_with("Kaydara FBX Binary") && start.size() > 20 && start[20] != '\0';
}

constexpr std::array known{
    Known{".glb", "", is_first_glb, "this is binary glTF of version 1, which is not taken",
          "export the model as glTF 2.0, or as version 1 in a .gltf file"},
    // COLLADA 1.4.1 specification, <ph> and <h>, from memory.
    Known{".dae", "<h> in tag <polygons>", any_start,
          "it has polygons with holes in them (<ph>), which the importer does not take",
          "cut all faces into triangles and export the model again"},
    Known{".lwo", "node graph", is_first_lwo,
          "this is LWO of the older kind, LWOB, which the importer cannot put together",
          "export the model as LWO2 or as another format"},
    Known{
        ".fbx", "", is_spoilt_fbx,
        "its binary data is spoilt: bytes of value 0 were replaced, as by a transfer in text mode",
        "download or export the file again"},
    Known{".mdl", "sequence file", any_start, "it holds motions of a model, not the model itself",
          "name the model's own file, whose name has no number at its end"},
    Known{".irr", "", any_start, "the importer finds nothing in scenes of this format",
          other_format},
    Known{".irrmesh", "", any_start, "the importer finds nothing in meshes of this format",
          other_format},
    Known{".xml", "IRRMESH", any_start, "the importer finds nothing in meshes of this format",
          other_format},
    Known{".ter", "End of file", any_start,
          "the importer comes to the end of the file before its heights are read", other_format},
    Known{"", "No suitable reader", any_start,
          "its content is of another format than its extension says",
          "rename the file, or export the model again"},
};

bool is_end(char c) {
    return static_cast<unsigned char>(c) <= ' ' || c == '.';
}

/// The importer's words as part of a sentence, with the file's name for its path.
std::string tidy(std::string reason, const fs::path& file) {
    const std::string path = file.string(), name = file.filename().string();
    if (path != name)
        for (std::size_t at = 0; (at = reason.find(path, at)) != std::string::npos;
             at += name.size())
            reason.replace(at, path.size(), name);
    while (!reason.empty() && is_end(reason.back())) reason.pop_back();
    for (char& c : reason)
        if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) c = ' ';
    return reason.empty() ? "the importer gives no reason" : reason;
}

Words words_for(const std::string& reason, const fs::path& file, RecordingIo& io) {
    const std::string extension = lower(file.extension().string());
    const std::string start = io.start_of(file, 64);
    for (const Known& k : known)
        if ((k.extension.empty() || k.extension == extension) && has(reason, k.reason) &&
            k.matches(start))
            return {std::string(k.found), std::string(k.advice)};
    Words words{"it cannot be read: " + tidy(reason, file)};
    if (has(reason, "could not open referenced file"))
        words.advice = "expected it in the model's folder; copy it there, or allow outside_files";
    return words;
}

std::size_t count_nodes(const aiNode* node) {
    if (node == nullptr) return 0;
    std::size_t count = 1;
    for (unsigned i = 0; i < node->mNumChildren; ++i) count += count_nodes(node->mChildren[i]);
    return count;
}

/// Passes on what is no mere matter of colour, motion or a chunk that was skipped.
class Listener : public Assimp::LogStream {
public:
    void write(const char* message) override {
        add(message, "out-of-range indices",
            "faces that name vertices which are not there were left out");
        note_fault(message);
    }
    const std::vector<std::string>& warnings() const { return warnings_; }
    const std::string& fault() const { return fault_; }
    bool lacked_memory() const { return lacked_memory_; }

private:
    // The reader of FBX goes on without an object that it cannot read, whatever the reason.
    void note_fault(std::string_view message) {
        if (!message.starts_with("Error, T")) return;
        lacked_memory_ = lacked_memory_ || has(message, "bad_alloc");
        const std::size_t words = message.find("FBX-");
        if (words == std::string_view::npos) return;
        if (fault_.empty()) fault_ = tidy(std::string(message.substr(words)), {});
        add(message, "FBX-", "objects that cannot be read were left out");
    }

    void add(std::string_view message, std::string_view part, const char* words) {
        if (has(message, part) &&
            std::find(warnings_.begin(), warnings_.end(), words) == warnings_.end())
            warnings_.emplace_back(words);
    }
    std::vector<std::string> warnings_;
    std::string fault_;
    bool lacked_memory_ = false;
};

const Listener& listener() {
    // The logger owns what is attached to it.
    static Listener* const listener = [] {
        auto* const made = new Listener();
        Assimp::DefaultLogger::create("", Assimp::Logger::NORMAL, 0);
        Assimp::DefaultLogger::get()->attachStream(made,
                                                   Assimp::Logger::Warn | Assimp::Logger::Err);
        return made;
    }();
    return *listener;
}

}  // namespace

Error refusal(const std::string& reason, const fs::path& file, RecordingIo& io) {
    const Words words = words_for(reason, file, io);
    return Error(ExitCode::bad_model, words.found + "; " + words.advice);
}

Error no_surface(const std::string& format, const aiScene& scene) {
    if (format == "IRR")
        return Error(ExitCode::bad_model, "the importer finds nothing in scenes of this format; " +
                                              std::string(other_format));
    if (const std::string& fault = listener().fault(); !fault.empty())
        return Error(ExitCode::bad_model,
                     "it has no surface that can be read: " + fault + "; " + Words().advice);
    std::string found = scene_file::counted(count_nodes(scene.mRootNode), "node");
    if (scene.mNumAnimations > 0)
        found += ", " + scene_file::counted(scene.mNumAnimations, "motion");
    if (scene.mNumCameras > 0) found += ", " + scene_file::counted(scene.mNumCameras, "camera");
    if (scene.mNumLights > 0) found += ", " + scene_file::counted(scene.mNumLights, "light");
    return Error(ExitCode::bad_model,
                 "it has no surface, only " + found +
                     "; expected triangles or polygons; export the model itself, with its meshes");
}

const std::vector<std::string>& importer_warnings() {
    return listener().warnings();
}

bool importer_lacked_memory() {
    return listener().lacked_memory();
}

}  // namespace rakelight
