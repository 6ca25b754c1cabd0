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

constexpr std::array<Word<ReliefSource>, 6> sources{{{"forms", ReliefSource::forms},
                                                     {"depth", ReliefSource::depth},
                                                     {"occlusion", ReliefSource::occlusion},
                                                     {"curvature", ReliefSource::curvature},
                                                     {"silhouette", ReliefSource::silhouette},
                                                     {"contour", ReliefSource::contour}}};

FormSettings read_forms(TableReader table) {
    FormSettings forms;
    table.number("squeeze", forms.squeeze, at_least(0.0).up_to(100.0));
    table.number("detail", forms.detail, at_least(0.0).up_to(10.0));
    table.number("detail_mm", forms.detail_mm, positive_mm);
    table.number("lip_mm", forms.lip_mm, zero_or_more_mm);
    table.finish();
    return forms;
}

void read_levels(TableReader& table, Report& report, ReliefLayer& layer) {
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

ReliefLayer read_layer(TableReader& table, Report& report) {
    ReliefLayer layer;
    Found source = table.word("source", layer.source, sources);
    table.need(source, "a source, as in source = \"forms\"");
    table.number("blur_mm", layer.blur_mm, zero_or_more_mm);
    read_levels(table, report, layer);
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
    const Found mask = table.word("mask", layer.mask, sources);
    const Found reversed = table.truth("mask_reversed", layer.mask_reversed);
    if (layer.mask_reversed && mask.absent())
        misfit(report, {&reversed}, "mask_reversed without a mask", "mask = ... with it");
    table.finish();
    return layer;
}

/// What the struck medal of docs/mixing.md is mixed from.
std::vector<ReliefLayer> usual_layers() {
    ReliefLayer forms;
    ReliefLayer hollows;
    hollows.source = ReliefSource::occlusion;
    hollows.mix = MixMode::multiply;
    hollows.opacity = 0.25;
    hollows.blur_mm = 0.15;  // the ends of occlusion's directions would show under a low lamp
    return {forms, hollows};
}

}  // namespace

std::optional<ReliefSettings> read_relief(TableReader table, Report& report) {
    if (!table.present()) {
        table.finish();
        return {};
    }
    ReliefSettings relief;
    table.number("height_mm", relief.height_mm, positive_mm);
    table.number("base_mm", relief.base_mm, zero_or_more_mm);
    table.truth("sunk", relief.sunk);
    table.truth("mirrored", relief.mirrored);
    relief.forms = read_forms(table.table("forms"));
    for (TableReader& layer : table.tables("layer"))
        relief.layers.push_back(read_layer(layer, report));
    if (relief.layers.empty()) relief.layers = usual_layers();
    table.finish();
    return relief;
}

}  // namespace rakelight::scene_file
