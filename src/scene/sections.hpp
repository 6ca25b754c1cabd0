#pragma once
// The tables of a scene file, one function each: keys, ranges and what must fit what.

#include <array>

#include "scene/reader.hpp"
#include "scene/report.hpp"
#include "scene/scene.hpp"

namespace rakelight::scene_file {

/// Longest length that any key takes, and the largest blank, mm.
constexpr double longest_mm = 2000.0;
constexpr Range positive_mm = above(0.0).up_to(longest_mm).in("mm");
constexpr Range zero_or_more_mm = at_least(0.0).up_to(longest_mm).in("mm");

/// Where the blank's sizes stand, for what must fit the blank.
struct BlankKeys {
    Found shape, width, height, corner_radius, rim, exergue;
};

// Each reads one table and returns it with its defaults filled in; faults and warnings go to the
// report.
BlankSettings read_blank(TableReader table, Report& report, BlankKeys& keys);
ModelSettings read_model(TableReader table, Report& report, const std::filesystem::path& folder);
PoseSettings read_pose(TableReader table, Report& report);
FramingSettings read_framing(TableReader table, Report& report, const BlankSettings& blank,
                             const BlankKeys& keys);
/// @param pose, framing  what a candidate takes over where it says nothing
PosesSettings read_poses(TableReader table, Report& report, const PoseSettings& pose,
                         const FramingSettings& framing);
ImageSettings read_image(TableReader table, Report& report, const BlankSettings& blank,
                         const BlankKeys& keys);
struct OutputSettings {
    std::optional<std::filesystem::path> folder;
    std::string files = "{pass}";
};
OutputSettings read_output(TableReader table, Report& report, const std::filesystem::path& folder);
PassSettings read_passes(TableReader table, Report& report);
/// What a relief must fit, and where its paths begin.
struct ReliefPlace {
    const BlankSettings& blank;
    const std::filesystem::path& scene_folder;
    const std::filesystem::path& recipe_folder;  ///< of what the recipe's file says
};
std::optional<ReliefSettings> read_relief(TableReader table, Report& report,
                                          const ReliefPlace& place);
/// [relief.making].
MakingSettings read_making(TableReader table, Report& report);
/// [relief.source.*].
std::vector<NamedSource> read_sources(TableReader& relief, Report& report,
                                      const ReliefPlace& place);
/// [relief.proof]; empty when there is none.
std::optional<ProofSettings> read_proof(TableReader table, Report& report,
                                        const BlankSettings& blank);
/// The words of a layer's and a mask's source, those of passes first.
std::vector<std::string_view> source_words(const std::vector<NamedSource>& sources);
SourceChoice source_at(std::size_t index);
std::optional<LockedCamera> read_locked(TableReader table, Report& report);

/// The ranges of a pose's keys.
constexpr Range angle = any_number.in("degrees");
constexpr Range view_angle = at_least(1.0).up_to(120.0).in("degrees");
constexpr Range zoom_factor = above(0.0).up_to(1000.0);

constexpr std::array<Word<Projection>, 2> projections{
    {{"parallel", Projection::parallel}, {"perspective", Projection::perspective}}};

/// The canonical text of a scene's tables that its pictures depend on, see Scene::content.
std::string content_text(const Table& root);

/// What [pass] is when the file has none: every pass that needs no names, each with its defaults.
Table default_passes();

/// A path as a scene file writes it, made absolute against the file's folder.
std::filesystem::path resolved(const std::string& as_written, const std::filesystem::path& folder);

}  // namespace rakelight::scene_file
