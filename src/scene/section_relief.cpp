// [relief]: the height map that is mixed from the passes.

#include <algorithm>

#include "scene/sections.hpp"
#include "scene/words.hpp"

namespace rakelight::scene_file {

namespace {

constexpr Range share = at_least(0.0).up_to(1.0);

constexpr std::array<Word<MixMode>, 10> mix_modes{{{"normal", MixMode::normal},
                                                   {"multiply", MixMode::multiply},
                                                   {"screen", MixMode::screen},
                                                   {"overlay", MixMode::overlay},
                                                   {"darken", MixMode::darken},
                                                   {"lighten", MixMode::lighten},
                                                   {"hard-light", MixMode::hard_light},
                                                   {"soft-light", MixMode::soft_light},
                                                   {"difference", MixMode::difference},
                                                   {"add", MixMode::add}}};

constexpr std::array<Word<LayerPlace>, 3> places{
    {{"subject", LayerPlace::subject}, {"field", LayerPlace::field}, {"piece", LayerPlace::piece}}};

FormSettings read_forms(TableReader table) {
    FormSettings forms;
    table.number("squeeze", forms.squeeze, at_least(0.0).up_to(100.0));
    table.number("detail", forms.detail, at_least(0.0).up_to(10.0));
    table.number("detail_mm", forms.detail_mm, positive_mm);
    table.number("lip_mm", forms.lip_mm, zero_or_more_mm);
    table.finish();
    return forms;
}

Found read_levels(TableReader& table, Report& report, ReliefLayer& layer) {
    const Found black = table.number("black", layer.levels.black, share);
    const Found white = table.number("white", layer.levels.white, share);
    table.number("gamma", layer.levels.gamma, at_least(0.01).up_to(100.0));
    const Found clip =
        table.number("clip_percent", layer.clip_percent, at_least(0.0).up_to(20.0).in("percent"));
    if (layer.levels.black == layer.levels.white) {
        misfit(report, {&black, &white}, "black and white both " + number_text(layer.levels.black),
               "two different values; white below black reverses the layer");
    }
    for (const Found* end : {&black, &white}) {
        if (clip.sound() && end->sound())
            misfit(report, {&clip, end}, "clip_percent beside black or white",
                   "one of both: clip_percent finds black and white in the image");
    }
    return clip;
}

void check_curve(Report& report, const Found& curve, const ReliefLayer& layer) {
    if (!curve.sound()) return;
    const auto rising = [](const auto& a, const auto& b) { return a[0] >= b[0]; };
    const auto& points = layer.curve;
    if (points.size() < 2 ||
        std::adjacent_find(points.begin(), points.end(), rising) != points.end())
        misfit(report, {&curve},
               counted(points.size(), "point") + ", not rising from first to last",
               "at least two points whose first numbers rise");
}

bool is_drawn(const SourceChoice& source, const std::vector<NamedSource>& sources) {
    return source.pass == ReliefSource::named &&
           !std::holds_alternative<PartSource>(sources[source.named].what);
}

/// Beyond the subject only heights can be added, of sources that have values there.
void check_place(const Found& place, const Found& mix, const Found& source, const Found& clip,
                 const ReliefLayer& layer, const std::vector<NamedSource>& sources,
                 Report& report) {
    if (layer.place == LayerPlace::subject) return;
    if (layer.mix != MixMode::add)
        misfit(report, {&place, &mix}, "a layer beyond the subject that is not added",
               "mix = \"add\" and amount_mm with it");
    if (source.sound() && !is_drawn(layer.source, sources))
        misfit(report, {&place, &source}, "a source that has no values beyond the subject",
               "an image, a shape, a gradient or a region of [relief.source]");
    if (clip.sound())
        misfit(report, {&clip, &place}, "clip_percent in a layer beyond the subject",
               "black and white, since it counts the subject's pixels");
}

Found read_choice(TableReader& table, std::string_view key,
                  const std::vector<std::string_view>& words, SourceChoice& choice) {
    std::size_t index = 0;
    const Found found = table.word_index(key, index, words);
    if (found.sound()) choice = source_at(index);
    return found;
}

ReliefLayer read_layer(TableReader& table, Report& report,
                       const std::vector<NamedSource>& sources) {
    const auto words = source_words(sources);
    ReliefLayer layer;
    Found source = read_choice(table, "source", words, layer.source);
    table.need(source, "a source, as in source = \"forms\"");
    table.number("blur_mm", layer.blur_mm, zero_or_more_mm);
    const Found clip = read_levels(table, report, layer);
    check_curve(report, table.pairs("curve", layer.curve, share), layer);
    const Found mix = table.word("mix", layer.mix, mix_modes);
    table.number("opacity", layer.opacity, share);
    Found amount = table.number("amount_mm", layer.amount_mm,
                                at_least(-longest_mm).up_to(longest_mm).in("mm"));
    if (layer.mix == MixMode::add) {
        table.need(amount, "the height that a value of 1 adds, as in amount_mm = 0.2", "", mix);
    } else if (amount.sound()) {
        misfit(report, {&amount}, "amount_mm in a layer that is not added",
               "mix = \"add\" with it, or opacity");
    }
    const Found place = table.word("place", layer.place, places);
    check_place(place, mix, source, clip, layer, sources, report);
    SourceChoice mask_source;
    const Found mask = read_choice(table, "mask", words, mask_source);
    if (mask.sound()) layer.mask = mask_source;
    const Found reversed = table.truth("mask_reversed", layer.mask_reversed);
    if (layer.mask_reversed && mask.absent())
        misfit(report, {&reversed}, "mask_reversed without a mask", "mask = ... with it");
    table.finish();
    return layer;
}

FadeSettings read_fade(TableReader table, Report& report, const BlankSettings& blank) {
    FadeSettings fade;
    table.number("edge_mm", fade.edge_mm, zero_or_more_mm);
    table.number("rim_mm", fade.rim_mm, zero_or_more_mm);
    table.number("rim_below_mm", fade.rim_below_mm, zero_or_more_mm);
    Found exergue = table.number("exergue_mm", fade.exergue_mm, zero_or_more_mm);
    const Found line = table.number("exergue_line_mm", fade.exergue_line_mm,
                                    at_least(-longest_mm).up_to(longest_mm).in("mm"));
    if (line.sound()) table.need(exergue, "the width of the fade, as in exergue_mm = 2.0");
    if (fade.exergue_mm > 0.0 && line.absent() && blank.exergue_mm <= 0.0)
        misfit(report, {&exergue}, "a fade above the exergue of a blank without one",
               "exergue_mm in [blank], or exergue_line_mm with it");
    table.finish();
    return fade;
}

}  // namespace

std::optional<ReliefSettings> read_relief(TableReader table, Report& report,
                                          const ReliefPlace& place) {
    if (!table.present()) {
        table.finish();
        return {};
    }
    ReliefSettings relief;
    std::string merged;
    table.text("recipe", merged);  // merge_recipe has taken it out; it is a key all the same
    table.number("height_mm", relief.height_mm, positive_mm);
    table.number("base_mm", relief.base_mm, zero_or_more_mm);
    table.number("dome_mm", relief.dome_mm, at_least(-longest_mm).up_to(longest_mm).in("mm"));
    const Found rim = table.truth("rim", relief.rim);
    table.truth("floats", relief.floats);
    table.truth("sunk", relief.sunk);
    table.truth("mirrored", relief.mirrored);
    relief.fade = read_fade(table.table("fade"), report, place.blank);
    relief.making = read_making(table.table("making"), report);
    relief.forms = read_forms(table.table("forms"));
    relief.proof = read_proof(table.table("proof"), report, place.blank);
    relief.sources = read_sources(table, report, place);
    for (TableReader& layer : table.tables("layer"))
        relief.layers.push_back(read_layer(layer, report, relief.sources));
    table.finish();
    if (relief.rim && place.blank.rim_mm <= 0.0)
        misfit(report, {&rim}, "a rim wanted of a blank without one", "rim_mm in [blank] with it");
    return relief;
}

}  // namespace rakelight::scene_file
