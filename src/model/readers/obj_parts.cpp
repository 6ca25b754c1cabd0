#include "model/readers/obj_parts.hpp"

#include "model/mapped_file.hpp"
#include "model/readers/text_scan.hpp"

namespace rakelight {

void ObjParts::follow(const ObjStatement& statement) {
    constexpr std::size_t longest_name = 1000;  // the importer cuts names off soon after that
    const bool may_be_empty = statement.kind == ObjStatement::Kind::group;
    if (statement.name.size() > longest_name || (statement.name.empty() && !may_be_empty))
        throw Unfamiliar();
    switch (statement.kind) {
        case ObjStatement::Kind::object:
            if (objects_.contains(std::string(statement.name))) throw Unfamiliar();
            start_object(statement);
            break;
        case ObjStatement::Kind::group:
            if (group_ != statement.name) start_object(statement);
            group_ = statement.name;
            break;
        case ObjStatement::Kind::material:
            take_material(statement);
            break;
        case ObjStatement::Kind::library:
            break;
    }
}

void ObjParts::start_object(const ObjStatement& statement) {
    objects_.emplace(statement.name);
    start_piece(std::string(statement.name), statement);
}

void ObjParts::take_material(const ObjStatement& statement) {
    if (material_ == statement.name) return;
    start_default(statement);
    material_ = statement.name;
    if (pieces_.empty()) return;
    Piece& piece = pieces_.back();
    const bool has_elements = statement.elements > piece.first_element;
    if (has_elements && !piece.material.empty())
        start_piece(piece.name.empty() ? material_ : piece.name, statement);
    else
        piece.material = material_;
}

// What comes before any object or group is an object of this name.
void ObjParts::start_default(const ObjStatement& next) {
    if (pieces_.empty() && next.elements > 0) pieces_.push_back({"defaultobject", material_, 0, 0});
}

void ObjParts::start_piece(const std::string& name, const ObjStatement& statement) {
    start_default(statement);
    pieces_.push_back({name, material_, statement.elements, statement.triangles});
}

std::vector<PartRange> ObjParts::end(std::uint64_t triangles) {
    if (pieces_.empty()) pieces_.push_back({"defaultobject", material_, 0, 0});
    std::vector<PartRange> parts;
    for (std::size_t i = 0; i < pieces_.size(); ++i) {
        const Piece& piece = pieces_[i];
        const std::uint64_t last =
            i + 1 < pieces_.size() ? pieces_[i + 1].first_triangle : triangles;
        if (last == piece.first_triangle) continue;
        parts.push_back({piece.name.empty() ? "part" : piece.name,
                         piece.material.empty() ? "DefaultMaterial" : piece.material,
                         static_cast<std::uint32_t>(piece.first_triangle),
                         static_cast<std::uint32_t>(last - piece.first_triangle), false});
    }
    return parts;
}

namespace {

/// Whether a material library has pictures that the importer makes surface detail of.
bool has_detail(std::string_view text) {
    TextScan scan(text);
    while (!scan.at_end()) {
        scan.skip_blanks();
        const std::string word = lower(std::string(scan.word()));
        for (const char* key : {"bump", "map_bump", "norm", "disp", "map_disp", "map_d"})
            if (word == key) return true;
        scan.skip_line();
    }
    return false;
}

void leave_detail_to_importer(const std::filesystem::path& library) {
    const MappedFile file(library);
    if (has_detail(file.bytes())) throw Unfamiliar();
}

}  // namespace

void note_library(std::string_view name, const std::filesystem::path& model, RecordingIo& io,
                  bool with_maps) {
    const std::filesystem::path named = model.parent_path() / name;
    std::filesystem::path library = named;
    if (name.empty() || !io.Exists(library.c_str())) {
        library = model;
        if (!io.Exists(library.replace_extension("mtl").c_str()))
            return name.empty() ? void() : io.note_missing(named);
    }
    if (with_maps) leave_detail_to_importer(library);
}

}  // namespace rakelight
