// 3MF core specification 1.3 (sections 2.1 package, 3.3 transforms, 3.4 model, 4 objects) and the
// production extension 1.1 (path attributes).

#include "model/readers/threemf_document.hpp"

#include <algorithm>
#include <array>
#include <set>
#include <unordered_map>
#include <utility>
#include <vector>

#include "error.hpp"
#include "model/readers/xml.hpp"

namespace rakelight::threemf {
namespace {

constexpr std::string_view model_relation =
    "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel";

[[noreturn]] void refuse(const std::string& what) {
    throw Error(ExitCode::bad_model, what + "; expected a sound 3MF file; export the model again");
}

/// A part's name as the zip archive has it.
std::string entry_name(std::string_view path) {
    return std::string(path.starts_with('/') ? path.substr(1) : path);
}

// The root document is the one that the package's relationships name. A package without them is
// still readable if it has its document in the usual place.
std::string root_document(const ZipPackage& zip) {
    if (const auto relations = zip.read("_rels/.rels")) {
        const auto document = parse_xml(*relations, "_rels/.rels in its package");
        for (const auto& relation : document.document_element().children())
            if (attribute_of(relation, "Type") == model_relation)
                return entry_name(attribute_of(relation, "Target"));
    }
    for (const std::string& name : zip.names())
        if (name.starts_with("3D/") && name.ends_with(".model")) return name;
    refuse("its package has no 3D model");
}

double unit_mm(std::string_view name) {
    constexpr std::array<std::pair<std::string_view, double>, 6> units{{{"micron", 0.001},
                                                                        {"millimeter", 1.0},
                                                                        {"centimeter", 10.0},
                                                                        {"inch", 25.4},
                                                                        {"foot", 304.8},
                                                                        {"meter", 1000.0}}};
    for (const auto& [unit, mm] : units)
        if (unit == name) return mm;
    refuse("its unit is \"" + std::string(name) + "\"");
}

// Twelve numbers, row by row, of a matrix that rows of coordinates are multiplied with from the
// left: the last row moves.
glm::dmat4 transform_of(const pugi::xml_node& element) {
    glm::dmat4 m(1.0);
    std::string_view text = attribute_of(element, "transform");
    if (text.empty()) return m;
    for (int row = 0; row < 4; ++row)
        for (int column = 0; column < 3; ++column)
            m[row][column] = take_number(text, "a number of a transform");
    if (!text.empty()) refuse("a transform has more than twelve numbers");
    return m;
}

Placed placed(const pugi::xml_node& element, const std::string& document) {
    const std::string_view path = attribute_of(element, "path");
    return {{path.empty() ? document : entry_name(path),
             std::string(attribute_of(element, "objectid"))},
            transform_of(element)};
}

pugi::xml_node child(const pugi::xml_node& element, std::string_view name) {
    for (const auto& c : element.children())
        if (local_name(c.name()) == name) return c;
    return {};
}

std::size_t index_of(std::string_view text) {
    std::size_t index = 0;
    for (const char c : text) index = c >= '0' && c <= '9' ? 10 * index + std::size_t(c - '0') : 0;
    return index;
}

/// The names of a document's materials, group by group.
using Materials = std::unordered_map<std::string, std::vector<std::string>>;

Materials materials_of(const pugi::xml_node& resources) {
    Materials materials;
    for (const auto& group : resources.children()) {
        if (local_name(group.name()) != "basematerials") continue;
        const std::string id(attribute_of(group, "id"));
        const auto [names, is_new] = materials.try_emplace(id);
        if (id.empty() || !is_new) continue;
        for (const auto& base : group.children())
            names->second.emplace_back(attribute_of(base, "name"));
    }
    return materials;
}

// Of the object as a whole; what single triangles are of is a matter of colour.
std::string material_of(const pugi::xml_node& object, const Materials& materials) {
    const auto group = materials.find(std::string(attribute_of(object, "pid")));
    if (group == materials.end()) return {};
    const std::size_t index = index_of(attribute_of(object, "pindex"));
    return index < group->second.size() ? group->second[index] : std::string();
}

}  // namespace

Package::Package(std::string_view bytes) : zip_(bytes), root_(root_document(zip_)) {
    read_document(root_);
    const pugi::xml_node model = documents_.at(root_).document_element();
    if (const std::string_view unit = attribute_of(model, "unit"); !unit.empty()) {
        mm_per_unit_ = unit_mm(unit);
        states_unit_ = true;
    }
    for (const auto& item : child(model, "build").children())
        if (local_name(item.name()) == "item") items_.push_back(placed(item, root_));
}

void Package::read_document(const std::string& name) {
    const auto text = zip_.read(name);
    if (!text) refuse("its package has no \"" + name + "\"");
    const auto& document =
        documents_.emplace(name, parse_xml(*text, "\"" + name + "\" in its package")).first->second;
    const pugi::xml_node model = document.document_element();
    if (local_name(model.name()) != "model") refuse("\"" + name + "\" in its package is no model");
    const pugi::xml_node resources = child(model, "resources");
    const Materials materials = materials_of(resources);
    for (const auto& resource : resources.children())
        if (local_name(resource.name()) == "object")
            read_object(resource, material_of(resource, materials), name);
}

void Package::read_object(const pugi::xml_node& element, std::string material,
                          const std::string& document) {
    const ObjectKey key{document, std::string(attribute_of(element, "id"))};
    Object object{element,
                  std::string(attribute_of(element, "name")),
                  std::string(attribute_of(element, "type")),
                  std::move(material),
                  {}};
    if (object.name.empty()) object.name = attribute_of(element, "partnumber");
    for (const auto& component : child(element, "components").children())
        if (local_name(component.name()) == "component")
            object.components.push_back(placed(component, document));
    objects_.emplace(key, std::move(object));
    if (document == root_) order_.push_back(key);
}

std::vector<Placed> Package::loose_objects() {
    std::set<ObjectKey> inner;
    for (const auto& [key, object] : objects_)
        for (const Placed& component : object.components) inner.insert(component.object);
    std::vector<Placed> loose;
    for (const ObjectKey& key : order_)
        if (!inner.contains(key)) loose.push_back({key, glm::dmat4(1.0)});
    return loose;
}

const Object& Package::object(const ObjectKey& key) {
    if (!documents_.contains(key.document)) read_document(key.document);
    const auto found = objects_.find(key);
    if (found == objects_.end())
        refuse("an object \"" + key.id + "\" is placed that \"" + key.document +
               "\" in its package does not have");
    return found->second;
}

}  // namespace rakelight::threemf
