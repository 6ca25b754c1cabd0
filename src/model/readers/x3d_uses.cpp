#include "model/readers/x3d_uses.hpp"

#include <map>
#include <pugixml.hpp>

#include "error.hpp"
#include "model/readers/xml.hpp"

namespace rakelight {
namespace {

constexpr std::size_t most_nodes = 4'000'000;
constexpr int most_levels = 1000;

/// Of a node and all below it, counted up to a limit; no deeper a stack for a deeper tree.
std::size_t count_nodes(const pugi::xml_node& top, std::size_t most) {
    std::size_t count = 1;
    for (pugi::xml_node node = top.first_child(); node && count <= most; ++count) {
        if (node.first_child()) {
            node = node.first_child();
            continue;
        }
        while (node != top && !node.next_sibling()) node = node.parent();
        if (node == top) return count + 1;
        node = node.next_sibling();
    }
    return count;
}

class Expansion {
public:
    // Names are given to nodes that are complete: a USE of a node inside itself finds nothing.
    void expand(pugi::xml_node node, int level = 0) {
        if (level > most_levels)
            throw Error(ExitCode::bad_model, "its elements lie more than " +
                                                 std::to_string(most_levels) +
                                                 " deep in each other; expected a scene; export "
                                                 "the model again");
        for (pugi::xml_node child = node.first_child(); child;) {
            const pugi::xml_node next = child.next_sibling();
            if (const pugi::xml_attribute use = child.attribute("USE")) {
                replace(node, child, use.value());
            } else {
                expand(child, level + 1);
            }
            child = next;
        }
        if (const pugi::xml_attribute name = node.attribute("DEF")) named_[name.value()] = node;
    }

private:
    // The copies keep their names, which become those of parts.
    void replace(pugi::xml_node parent, pugi::xml_node use, const std::string& name) {
        const auto found = named_.find(name);
        if (found != named_.end()) {
            nodes_ += count_nodes(found->second, most_nodes);
            if (nodes_ > most_nodes)
                throw Error(ExitCode::bad_model,
                            "its USE elements repeat more than " + std::to_string(most_nodes) +
                                " nodes; expected less; export the pieces once each");
            parent.insert_copy_before(found->second, use);
        }
        parent.remove_child(use);
    }

    std::map<std::string, pugi::xml_node> named_;
    std::size_t nodes_ = 0;
};

}  // namespace

std::optional<std::string> without_uses(std::string_view text) {
    if (text.find("USE=") == std::string_view::npos) return std::nullopt;
    pugi::xml_document document;
    if (!document.load_buffer(text.data(), text.size(), pugi::parse_default | pugi::parse_doctype))
        return std::nullopt;
    Expansion().expand(document);
    return text_of(document);
}

}  // namespace rakelight
