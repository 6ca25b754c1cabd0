#include "scene/recipes.hpp"

#include <algorithm>
#include <array>
#include <string>

#include "error.hpp"
#include "scene/file_text.hpp"
#include "scene/sections.hpp"
#include "scene/toml_text.hpp"
#include "scene/words.hpp"

namespace rakelight::scene_file {

namespace {

struct BuiltIn {
    std::string_view name;
    std::string_view text;
};

// docs/mixing.md has them too, and says what each is for.
constexpr std::array<BuiltIn, 3> built_in{{
    {"struck-medal", R"(
[relief]
height_mm = 1.8
[relief.fade]
edge_mm = 0.2
[relief.forms]
detail = 1.4
[[relief.layer]]
source = "forms"
[[relief.layer]]
source = "occlusion"
blur_mm = 0.15    # the ends of its directions would show under a low lamp
mix = "multiply"
opacity = 0.25
)"},
    {"cast-piece", R"(
[relief]
height_mm = 2.5
[relief.fade]
edge_mm = 0.6
[relief.forms]
squeeze = 2.0
detail = 0.6
lip_mm = 0.1
[[relief.layer]]
source = "forms"
blur_mm = 0.05
[[relief.layer]]
source = "occlusion"
blur_mm = 0.3
mix = "multiply"
opacity = 0.2
)"},
    {"button", R"(
[relief]
height_mm = 1.2
[relief.fade]
edge_mm = 0.2
[relief.forms]
squeeze = 6.0
detail = 1.5
[[relief.layer]]
source = "forms"
[[relief.layer]]
source = "curvature"
mix = "add"
amount_mm = 0.06
)"},
}};

constexpr std::string_view file_ending = ".toml";

const BuiltIn* built_in_named(std::string_view name) {
    const auto found = std::find_if(built_in.begin(), built_in.end(),
                                    [&](const BuiltIn& one) { return one.name == name; });
    return found == built_in.end() ? nullptr : &*found;
}

/// The table [relief] of a recipe's text.
Table relief_of(std::string_view text, const std::string& name, Report& report) {
    report.set_recipe(name);
    Table root = parse_toml(text, {.in_recipe = true}, report);
    for (const Entry& entry : root) {
        if (entry.key != "relief")
            report.add({entry.place, key_text(entry.key), "a table or key that is no recipe's",
                        "[relief] alone", ""});
    }
    Entry* relief = find(root, "relief");
    if (!relief || !relief->node.table()) {
        report.add({{.line = 1, .column = 1, .in_recipe = true},
                    "",
                    "no [relief]",
                    "a recipe: [relief] with its layers",
                    ""});
        return {};
    }
    Table& table = *relief->node.table();
    if (const Entry* again = find(table, "recipe"))
        report.add({again->place, "[relief] recipe", "a recipe within a recipe",
                    "its keys and layers themselves", ""});
    return table;
}

/// The struck medal's, without a word of it in messages: there is no fault in it.
Table usual_layers(const Report& report) {
    const Table root = parse_toml(built_in.front().text, {.in_recipe = true}, report);
    return *find(root, "relief")->node.table();
}

/// The scene's keys in place of the recipe's, table by table.
void lay_over(Table& recipe, Table own) {
    for (Entry& entry : own) {
        Entry* known = find(recipe, entry.key);
        if (!known) {
            recipe.push_back(std::move(entry));
        } else if (known->node.table() && entry.node.table()) {
            lay_over(*known->node.table(), std::move(*entry.node.table()));
            known->node.place = entry.node.place;
        } else {
            *known = std::move(entry);
        }
    }
}

/// The recipe's layers, then the scene's.
void append_layers(Table& own, const Table& recipe) {
    const Entry* first = find(recipe, "layer");
    if (!first || !first->node.array()) return;
    Entry* then = find(own, "layer");
    if (!then) {
        own.push_back(*first);
    } else if (auto* layers = std::get_if<std::vector<Node>>(&then->node.value)) {
        layers->insert(layers->begin(), first->node.array()->begin(), first->node.array()->end());
    }
}

struct Chosen {
    std::string text;
    std::string name;  ///< as messages call it
    std::optional<std::filesystem::path> file;
};

/// The text that `recipe = ...` stands for; nothing when that is a fault, which is reported.
std::optional<Chosen> chosen_recipe(const Entry& entry, const std::filesystem::path& folder,
                                    Report& report) {
    const std::string label = "[relief] recipe";
    const auto names = built_in_recipes();
    const std::string expected =
        "one of the built-in recipes, " + either(names, "\"") + ", or a file that ends in .toml";
    const std::string* word = entry.node.text();
    if (!word) {
        report.add({entry.node.place, label, described(entry.node), expected, ""});
        return std::nullopt;
    }
    if (const BuiltIn* known = built_in_named(*word))
        return Chosen{std::string(known->text), "the built-in recipe " + *word, std::nullopt};
    if (!word->ends_with(file_ending)) {
        const auto near = nearest(*word, names);
        report.add({entry.node.place, label, described(entry.node), expected,
                    near ? "Did you mean \"" + std::string(*near) + "\"?" : ""});
        return std::nullopt;
    }
    const std::filesystem::path file = resolved(*word, folder);
    return Chosen{file_text(file, "a recipe"), file.string(), file};
}

}  // namespace

std::vector<std::string_view> built_in_recipes() {
    std::vector<std::string_view> names;
    for (const BuiltIn& one : built_in) names.push_back(one.name);
    return names;
}

std::optional<std::filesystem::path> merge_recipe(Table& root, const std::filesystem::path& folder,
                                                  Report& report) {
    Entry* relief = find(root, "relief");
    if (!relief || !relief->node.table()) return std::nullopt;
    Table& own = *relief->node.table();
    std::optional<std::filesystem::path> file;
    if (const Entry* entry = find(own, "recipe")) {
        const auto chosen = chosen_recipe(*entry, folder, report);
        std::erase_if(own, [](const Entry& key) { return key.key == "recipe"; });
        if (chosen) {
            file = chosen->file;
            Table recipe = relief_of(chosen->text, chosen->name, report);
            append_layers(own, recipe);
            std::erase_if(
                recipe, [](const Entry& key) { return key.key == "layer" || key.key == "recipe"; });
            lay_over(recipe, std::move(own));
            own = std::move(recipe);
        }
    }
    if (!find(own, "layer")) append_layers(own, usual_layers(report));
    return file;
}

}  // namespace rakelight::scene_file
