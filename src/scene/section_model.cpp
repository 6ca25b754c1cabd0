// [model] and [output]: files, and how the model's own axes and units are to be read.

#include <array>

#include "scene/sections.hpp"

namespace rakelight::scene_file {

namespace {

constexpr std::array<Word<std::optional<Axis>>, 7> axes{{{"auto", std::nullopt},
                                                         {"+x", Axis::plus_x},
                                                         {"-x", Axis::minus_x},
                                                         {"+y", Axis::plus_y},
                                                         {"-y", Axis::minus_y},
                                                         {"+z", Axis::plus_z},
                                                         {"-z", Axis::minus_z}}};

/// Millimetres of one model unit. The inch is 25.4 mm exactly (international yard and pound
/// agreement, 1959).
constexpr std::array<Word<std::optional<double>>, 5> units{
    {{"auto", std::nullopt}, {"mm", 1.0}, {"cm", 10.0}, {"m", 1000.0}, {"in", 25.4}}};

constexpr std::array<Word<NormalSource>, 3> normal_sources{{{"auto", NormalSource::automatic},
                                                            {"file", NormalSource::file},
                                                            {"made", NormalSource::made}}};

constexpr std::array<Word<CageRule>, 3> cage_rules{{{"none", CageRule::none},
                                                    {"catmull-clark", CageRule::catmull_clark},
                                                    {"loop", CageRule::loop}}};
constexpr std::array<Word<bool>, 2> details{{{"auto", true}, {"none", false}}};

/// Which way green points in normal maps: true is down.
constexpr std::array<Word<bool>, 2> greens{{{"up", false}, {"down", true}}};

/// 0: the x axis, 1: y, 2: z, whichever way it points.
int line_of(Axis axis) {
    return static_cast<int>(axis) / 2;
}

std::string_view name_of(Axis axis) {
    for (const auto& word : axes) {
        if (word.value == axis) return word.name;
    }
    return "";
}

void read_textures(TableReader& table, ModelSettings& model) {
    table.word("texture_detail", model.reading.maps, details);
    table.word("texture_green", model.reading.green_down, greens);
    table.number("texture_strength", model.texture.strength, at_least(0.0).up_to(10.0));
    table.number("texture_bump_mm", model.texture.bump_mm, above(0.0).up_to(100.0).in("mm"));
    table.truth("texture_depth", model.texture.in_depth);
}

void check_axes(Report& report, const ModelSettings& model, const Found& up, const Found& front) {
    if (!model.up || !model.front || line_of(*model.up) != line_of(*model.front)) return;
    misfit(report, {&front, &up},
           "the front " + std::string(name_of(*model.front)) + " with the top at " +
               std::string(name_of(*model.up)),
           "a front on another axis than up");
}

CageSettings read_cage(TableReader& table, Report& report) {
    CageSettings cage;
    const Found rule = table.word("subdivide", cage.rule, cage_rules);
    int times = 0;
    const Found found = table.whole("subdivide_times", times, 1, 7);
    if (found.sound()) cage.times = times;
    const Found crease = table.number("subdivide_crease_deg", cage.crease_deg,
                                      at_least(0.0).up_to(180.0).in("degrees"));
    if (cage.rule != CageRule::none || rule.faulty()) return cage;
    for (const Found& idle : {found, crease}) {
        if (!idle.sound()) continue;
        misfit(report, {&idle, &rule}, "it without subdivision",
               "subdivide = \"catmull-clark\" or \"loop\" beside it");
    }
    return cage;
}

/// Which moment of a model that moves is shown: at rest, at a time of a clip, or a vertex frame.
void read_posing(TableReader& table, Report& report, PosingSettings& posing) {
    const Found rest = table.truth("rest", posing.rest);
    const Found clip = table.name_or_number("clip", posing.clip);
    const Found time = table.number("clip_time_s", posing.clip_time_s, any_number.in("seconds"));
    int frame = 0;
    constexpr int most_frames = 1'000'000;
    const Found at_frame = table.whole("frame", frame, 0, most_frames);
    if (at_frame.sound()) posing.frame = frame;
    table.numbers_by_name("shapes", posing.shapes);
    if (posing.rest && clip.sound())
        misfit(report, {&clip, &rest}, "a clip with rest = true", "one of both");
    if (time.sound() && clip.absent())
        misfit(report, {&time}, "a time without a clip", "a clip too, as in clip = \"walk\"");
}

}  // namespace

std::filesystem::path resolved(const std::string& as_written, const std::filesystem::path& folder) {
    return (folder / std::filesystem::path(as_written)).lexically_normal();
}

ModelSettings read_model(TableReader table, Report& report, const std::filesystem::path& folder) {
    ModelSettings model;
    Found file = table.text("file", model.file_as_written);
    const Found up = table.word("up", model.up, axes);
    const Found front = table.word("front", model.front, axes);
    table.word("unit", model.mm_per_unit, units);
    table.texts("use", model.use);
    table.texts("skip", model.skip);
    table.word("normals", model.reading.normals, normal_sources);
    table.number("crease_deg", model.reading.crease_deg, at_least(0.0).up_to(180.0).in("degrees"));
    table.truth("outside_files", model.reading.outside_files);
    model.reading.cage = read_cage(table, report);
    read_posing(table, report, model.reading.posing);
    read_textures(table, model);
    table.need(file, "the model's file, as in file = \"ammonite.ply\"");
    table.finish();

    check_axes(report, model, up, front);
    model.file = resolved(model.file_as_written, folder);
    return model;
}

}  // namespace rakelight::scene_file
