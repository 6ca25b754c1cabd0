// [relief.source.NAME]: what a recipe makes values from beside the passes.

#include <algorithm>

#include "scene/sections.hpp"
#include "scene/words.hpp"

namespace rakelight::scene_file {

namespace {

constexpr Range any_mm = at_least(-longest_mm).up_to(longest_mm).in("mm");

constexpr std::array<std::string_view, 8> pass_words{
    "forms", "depth", "occlusion", "curvature", "silhouette", "contour", "undercut", "steep"};

constexpr std::array<Word<ShapeForm>, 2> shapes{
    {{"ellipse", ShapeForm::ellipse}, {"rectangle", ShapeForm::rectangle}}};
constexpr std::array<Word<GradientForm>, 2> gradients{
    {{"linear", GradientForm::linear}, {"radial", GradientForm::radial}}};
constexpr std::array<std::string_view, 5> regions{"blank", "field", "rim", "hole", "exergue"};

/// Everything that a source can say; each kind takes a part of it.
struct SourceKeys {
    std::string file, part;
    ShapeSource shape;
    GradientSource gradient;
    std::size_t region = 0;
    std::optional<double> width_mm;
    std::array<double, 2> centre_mm{0.0, 0.0};
    double turn_deg = 0.0;
    bool depth = false;
    Found is_image, is_shape, is_gradient, is_part, is_region;
    Found width, size, corner, soft, from, to, centre, turn, own_depth;
};

SourceKeys read_keys(TableReader& table) {
    constexpr std::string_view place = "x and y from the blank's middle";
    SourceKeys keys;
    keys.is_image = table.text("image", keys.file);
    keys.is_shape = table.word("shape", keys.shape.form, shapes);
    keys.is_gradient = table.word("gradient", keys.gradient.form, gradients);
    keys.is_part = table.text("part", keys.part);
    keys.is_region = table.word_index("region", keys.region, regions);
    keys.width = table.number("width_mm", keys.width_mm, positive_mm);
    keys.size = table.numbers("size_mm", keys.shape.size_mm, positive_mm, "width and height");
    keys.corner = table.number("corner_mm", keys.shape.corner_mm, zero_or_more_mm);
    keys.soft = table.number("soft_mm", keys.shape.soft_mm, zero_or_more_mm);
    keys.from = table.numbers("from_mm", keys.gradient.from_mm, any_mm, place);
    keys.to = table.numbers("to_mm", keys.gradient.to_mm, any_mm, place);
    keys.centre = table.numbers("centre_mm", keys.centre_mm, any_mm, place);
    keys.turn = table.number("turn_deg", keys.turn_deg, angle);
    keys.own_depth = table.truth("depth", keys.depth);
    return keys;
}

/// Reports what another kind of source takes.
void refuse_others(Report& report, const Found& kind, std::string_view word,
                   std::initializer_list<const Found*> others) {
    for (const Found* other : others) {
        if (other->sound())
            misfit(report, {other, &kind}, "a key that no " + std::string(word) + " takes",
                   "a source of one kind, and its own keys");
    }
}

ImageSource image_of(const SourceKeys& keys, Report& report, const ReliefPlace& place) {
    refuse_others(report, keys.is_image, "image",
                  {&keys.is_shape, &keys.is_gradient, &keys.is_part, &keys.is_region, &keys.size,
                   &keys.corner, &keys.soft, &keys.from, &keys.to});
    const auto& folder = keys.is_image.place.in_recipe ? place.recipe_folder : place.scene_folder;
    return {resolved(keys.file, folder), keys.width_mm};
}

ShapeSource shape_of(SourceKeys& keys, TableReader& table, Report& report) {
    refuse_others(
        report, keys.is_shape, "shape",
        {&keys.is_gradient, &keys.is_part, &keys.is_region, &keys.width, &keys.from, &keys.to});
    table.need(keys.size, "the shape's size, as in size_mm = [10.0, 4.0]", "", keys.is_shape);
    if (keys.shape.form == ShapeForm::ellipse && keys.corner.sound())
        misfit(report, {&keys.corner, &keys.is_shape}, "corners of an ellipse",
               "shape = \"rectangle\" with them");
    const double most = 0.5 * std::min(keys.shape.size_mm[0], keys.shape.size_mm[1]);
    if (keys.shape.corner_mm > most)
        misfit(report, {&keys.corner, &keys.size},
               "a radius of " + number_text(keys.shape.corner_mm) + " mm",
               "at most half of the shorter side, " + number_text(most) + " mm");
    return keys.shape;
}

GradientSource gradient_of(SourceKeys& keys, TableReader& table, Report& report) {
    refuse_others(report, keys.is_gradient, "gradient",
                  {&keys.is_part, &keys.is_region, &keys.width, &keys.size, &keys.corner,
                   &keys.soft, &keys.centre, &keys.turn});
    table.need(keys.from, "where it is 0, as in from_mm = [0.0, -10.0]", "", keys.is_gradient);
    table.need(keys.to, "where it is 1, as in to_mm = [0.0, 10.0]", "", keys.is_gradient);
    if (keys.from.sound() && keys.gradient.from_mm == keys.gradient.to_mm)
        misfit(report, {&keys.from, &keys.to}, "from_mm and to_mm at one place",
               "two different places");
    return keys.gradient;
}

void refuse_drawn(const SourceKeys& keys, const Found& kind, std::string_view word,
                  Report& report) {
    refuse_others(report, kind, word,
                  {&keys.width, &keys.size, &keys.corner, &keys.soft, &keys.from, &keys.to,
                   &keys.centre, &keys.turn});
}

RegionSource region_of(const SourceKeys& keys, Report& report, const BlankSettings& blank) {
    refuse_drawn(keys, keys.is_region, "region", report);
    const std::string name(regions[keys.region]);
    const bool there = name == "exergue" ? blank.exergue_mm > 0.0
                       : name == "hole"  ? blank.hole.has_value()
                                         : true;
    if (!there)
        misfit(report, {&keys.is_region}, "the " + name + " of a blank without one",
               "its " + name + " in [blank]");
    return {name};
}

NamedSource read_source(std::string name, TableReader& table, Report& report,
                        const ReliefPlace& place) {
    NamedSource source;
    source.name = std::move(name);
    SourceKeys keys = read_keys(table);
    source.centre_mm = keys.centre_mm;
    source.turn_deg = keys.turn_deg;
    if (!keys.is_image.absent()) {
        source.what = image_of(keys, report, place);
    } else if (!keys.is_shape.absent()) {
        source.what = shape_of(keys, table, report);
    } else if (!keys.is_gradient.absent()) {
        source.what = gradient_of(keys, table, report);
    } else if (!keys.is_part.absent()) {
        refuse_others(report, keys.is_part, "part", {&keys.is_region});
        refuse_drawn(keys, keys.is_part, "part", report);
        source.what = PartSource{keys.part, keys.depth};
    } else if (!keys.is_region.absent()) {
        source.what = region_of(keys, report, place.blank);
    } else {
        table.need(keys.is_image, "image, or shape, gradient, part or region");
    }
    if (keys.is_part.absent() && keys.own_depth.sound())
        misfit(report, {&keys.own_depth}, "depth of what is no part", "part = ... with it");
    table.finish();
    return source;
}

/// A name that a layer can write, and that no pass has.
void check_name(const std::string& name, const TableReader& table, Report& report) {
    const bool plain = std::all_of(name.begin(), name.end(), [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
               c == '-' || c == '_';
    });
    const Found self = table.self();
    if (!plain || name.empty())
        misfit(report, {&self}, "the name " + shown(name), "letters, digits, - and _ alone");
    if (std::find(pass_words.begin(), pass_words.end(), name) != pass_words.end())
        misfit(report, {&self}, "the name of a pass, " + shown(name), "a name of its own");
}

}  // namespace

std::vector<NamedSource> read_sources(TableReader& relief, Report& report,
                                      const ReliefPlace& place) {
    std::vector<NamedSource> sources;
    for (auto& [name, table] : relief.named_tables("source")) {
        check_name(name, table, report);
        sources.push_back(read_source(name, table, report, place));
    }
    return sources;
}

std::vector<std::string_view> source_words(const std::vector<NamedSource>& sources) {
    std::vector<std::string_view> words(pass_words.begin(), pass_words.end());
    for (const NamedSource& source : sources) words.push_back(source.name);
    return words;
}

SourceChoice source_at(std::size_t index) {
    if (index < pass_words.size()) return SourceChoice(static_cast<ReliefSource>(index));
    return SourceChoice(ReliefSource::named, index - pass_words.size());
}

}  // namespace rakelight::scene_file
