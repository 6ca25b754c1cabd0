#pragma once
// Collects what is wrong with a scene and words every message alike:
//   PATH:LINE:COLUMN: [table] key: found X; expected Y. Hint.
//   --set KEY=VALUE: found X; expected Y. Hint.
// Checks may run in any order; the fault that is thrown is the first in the file's order.

#include <optional>
#include <string>
#include <vector>

#include "scene/node.hpp"
#include "scene/scene.hpp"

namespace rakelight::scene_file {

/// A key by the tables that lead to it, dotted: "blank.hole.diameter_mm". Empty: the file itself.
struct KeyName {
    std::string dotted;

    KeyName operator/(std::string_view key) const;
    /// As messages write it: "[blank.hole] diameter_mm"; a table of the file itself: "[blank]".
    std::string label() const;
    std::string table_label() const { return "[" + dotted + "]"; }
};

struct Fault {
    Place place;  ///< shown
    std::string label;
    std::string found;
    std::string expected;
    std::string hint;  ///< whole sentences, or empty
};

class Report {
public:
    /// @param path       as messages show it
    /// @param overrides  kept by reference; Place::override_index counts in it
    Report(const std::filesystem::path& path, const std::vector<Override>& overrides);

    void add(Fault fault) {
        const Place order = fault.place;
        add_after(order, std::move(fault));
    }
    /// A fault that is known only at a later place than the one it is shown at, as a missing key is
    /// at the end of its table: `order` is that place.
    void add_after(Place order, Fault fault);
    /// A warning starts with LINE:COLUMN alone, or with --set KEY=VALUE.
    void warn(Place place, const std::string& label, const std::string& text);

    /// What the recipe's file is called in messages. Before anything of it is reported.
    void set_recipe(std::string name) { recipe_ = std::move(name); }
    /// Throws Error(bad_scene) with the first fault, if there is any.
    void throw_first() const;
    /// In the file's order.
    std::vector<std::string> warnings() const;

    /// "PATH:LINE:COLUMN", "PATH" or "--set KEY=VALUE".
    std::string where(const Place& place) const;
    /// What an override is called: "--set KEY=VALUE".
    std::string override_label(int index) const;
    std::string message(const Fault& fault) const;

private:
    struct Entry {
        Place order;
        std::string message;
    };

    std::string path_;
    std::string recipe_;
    const std::vector<Override>& overrides_;
    std::vector<Entry> faults_;
    std::vector<Entry> warnings_;
};

}  // namespace rakelight::scene_file
