#include "model/readers/obj_parts.hpp"

#include "model/readers/text_scan.hpp"

namespace rakelight {

bool ObjNames::begins(ObjStatement::Kind kind, std::string_view name) {
    if (kind == ObjStatement::Kind::group) {
        // Without a name it ends a group; an object goes on.
        if (name.empty() && group_.empty()) return false;
        group_ = name;
    }
    if (name == active_) return false;
    active_ = name;
    return true;
}

void ObjParts::follow(const ObjStatement& statement) {
    constexpr std::size_t longest_name = 1000;  // the importer cuts names off soon after that
    const bool may_be_empty = statement.kind == ObjStatement::Kind::group;
    if (statement.name.size() > longest_name || (statement.name.empty() && !may_be_empty))
        throw Unfamiliar();
    switch (statement.kind) {
        case ObjStatement::Kind::object:
        case ObjStatement::Kind::group:
            if (names_.begins(statement.kind, statement.name))
                start_piece(std::string(statement.name), statement);
            break;
        case ObjStatement::Kind::material:
            take_material(statement);
            break;
        case ObjStatement::Kind::library:
            break;
    }
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

}  // namespace rakelight
