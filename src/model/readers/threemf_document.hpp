#pragma once
// The model documents of a 3MF package and the objects in them. Private to model/.

#include <cstdint>
#include <glm/glm.hpp>
#include <map>
#include <pugixml.hpp>
#include <string>
#include <string_view>
#include <vector>

#include "model/readers/zip_package.hpp"

namespace rakelight::threemf {

/// Where an object is defined: a document of the package and its id there. Ids are those of one
/// document (3MF production extension, section 2.1).
struct ObjectKey {
    std::string document;  ///< as the package names it, without the leading slash
    std::string id;
    auto operator<=>(const ObjectKey&) const = default;
};

/// An object at a place: an item of the build, or a component of another object.
struct Placed {
    ObjectKey object;
    glm::dmat4 parent_from_object{1.0};
};

struct Object {
    pugi::xml_node element;
    std::string name;      ///< may be empty
    std::string type;      ///< "model", "support" ...
    std::string material;  ///< of the base materials; may be empty
    std::vector<Placed> components;
};

class Package {
public:
    /// @param bytes  the package; must outlive this
    /// Throws Error(bad_model), without the file's name: no sound package, no model in it, or one
    /// that is not well-formed.
    explicit Package(std::string_view bytes);

    /// Millimetres, and whether the file says so itself.
    double mm_per_unit() const { return mm_per_unit_; }
    bool states_unit() const { return states_unit_; }

    const std::vector<Placed>& items() const { return items_; }
    /// Objects of the root document that are no component of another, in its order.
    std::vector<Placed> loose_objects();
    /// Throws Error(bad_model) when there is none.
    const Object& object(const ObjectKey& key);

private:
    void read_document(const std::string& name);
    void read_object(const pugi::xml_node& element, std::string material,
                     const std::string& document);

    ZipPackage zip_;
    std::string root_;
    std::map<std::string, pugi::xml_document> documents_;
    std::map<ObjectKey, Object> objects_;
    std::vector<ObjectKey> order_;  ///< of the root document
    std::vector<Placed> items_;
    double mm_per_unit_ = 1.0;
    bool states_unit_ = false;
};

}  // namespace rakelight::threemf
