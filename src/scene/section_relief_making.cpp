// [relief.making]: what the process can make that the height map is for.

#include "scene/sections.hpp"
#include "scene/words.hpp"

namespace rakelight::scene_file {

namespace {

constexpr Range tool_mm = above(0.0).up_to(10.0).in("mm");
constexpr Range one_step_mm = at_least(0.001).up_to(longest_mm).in("mm");
constexpr int most_steps = 65536;

constexpr std::array<Word<CutterTip>, 2> tips{
    {{"flat", CutterTip::flat}, {"ball", CutterTip::ball}}};

}  // namespace

MakingSettings read_making(TableReader table, Report& report) {
    MakingSettings making;
    table.number("tallest_mm", making.tallest_mm, positive_mm);
    table.number("ridge_mm", making.ridge_mm, tool_mm);
    const Found groove = table.number("groove_mm", making.groove_mm, tool_mm);
    const Found cutter = table.word("cutter", making.cutter, tips);
    table.number("wall_deg", making.wall_deg, above(0.0).up_to(90.0).in("degrees"));
    const Found step = table.number("step_mm", making.step_mm, one_step_mm);
    const Found steps = table.whole("steps", making.steps, 2, most_steps);
    table.number("least_mm", making.least_mm, positive_mm);
    table.finish();
    if (making.cutter == CutterTip::ball && groove.absent())
        misfit(report, {&cutter}, "a ball without a width",
               "its diameter with it, as in groove_mm = 0.5");
    if (step.sound() && steps.sound())
        misfit(report, {&step, &steps}, "both step_mm and steps",
               "one of both: the height of a step, or how many there are over the whole height");
    return making;
}

}  // namespace rakelight::scene_file
