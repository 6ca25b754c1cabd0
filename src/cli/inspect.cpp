// rakelight inspect: what was bought.

#include <CLI/CLI.hpp>
#include <charconv>
#include <cmath>
#include <cstdio>
#include <memory>
#include <nlohmann/json.hpp>

#include "batch/memory_need.hpp"
#include "batch/turnaround.hpp"
#include "cli/commands.hpp"
#include "cli/options.hpp"
#include "cli/terminal.hpp"
#include "error.hpp"
#include "framing/frame.hpp"
#include "image/output_set.hpp"
#include "model/import_need.hpp"
#include "model/load.hpp"
#include "model/posing.hpp"

namespace rakelight {
namespace {

using Json = nlohmann::ordered_json;

struct InspectCommand {
    TalkOptions talk;
    std::filesystem::path file;
    std::filesystem::path picture;
    std::string up;
    LoadOptions load;
};

// What a look at the model from its sides has shown, and one at its file.
struct Looks {
    std::uint64_t import_mib = 0;  // what its import takes at the most, reckoned as before it
    Axis up = Axis::plus_y;
    std::vector<PartSeen> seen;  // empty: there is one part alone
    std::vector<StrayPart> strays;
};

Looks look_at(const InspectCommand& options, const Mesh& mesh) {
    Looks looks;
    // It forks: before there is a graphics context.
    looks.import_mib = mib_of(import_need(options.file, mesh.file_bytes(), options.load).bytes);
    looks.up = axis_from_name(options.up.empty() ? mesh.facts().up : options.up);
    if (mesh.parts().size() < 2) return looks;
    looks.seen = parts_seen(mesh, looks.up);
    looks.strays = stray_parts(mesh, looks.up);
    return looks;
}

Json box_of(const Bounds& bounds) {
    return {{"low", {bounds.low.x, bounds.low.y, bounds.low.z}},
            {"high", {bounds.high.x, bounds.high.y, bounds.high.z}}};
}

Json parts_of(const Mesh& mesh, const Looks& looks) {
    Json parts = Json::array();
    for (std::size_t i = 0; i < mesh.parts().size(); ++i) {
        const Part& part = mesh.parts()[i];
        const PartSeen seen = looks.seen.empty() ? PartSeen{1.0, 1.0} : looks.seen[i];
        parts.push_back({{"name", part.name},
                         {"material", part.material},
                         {"triangles", part.triangle_count},
                         {"seen_share", seen.share},
                         {"front_share", seen.front_share},
                         {"bounds", box_of(part.bounds)}});
        if (part.copy != no_copy)
            parts.back()["copy_of"] = mesh.parts()[mesh.copies()[part.copy].of].name;
    }
    return parts;
}

Json clips_of(const RigFacts& rig) {
    Json clips = Json::array();
    for (const auto& clip : rig.clips)
        clips.push_back({{"name", clip.name}, {"from_s", clip.from_s}, {"to_s", clip.to_s}});
    return clips;
}

Json shapes_of(const RigFacts& rig) {
    Json shapes = Json::array();
    for (const auto& shape : rig.shapes)
        shapes.push_back({{"name", shape.name}, {"weight", shape.weight}});
    return shapes;
}

Json hints_of(const Looks& looks) {
    Json hints = Json::array();
    for (const auto& stray : looks.strays) hints.push_back(stray.hint);
    return hints;
}

Json textures_of(const Mesh& mesh) {
    Json textures = Json::array();
    for (const auto& t : mesh.facts().textures) {
        textures.push_back({{"name", t.name},
                            {"use", t.use},
                            {"material", t.material},
                            {"found", t.found},
                            {"state", t.state},
                            {"width", t.width},
                            {"height", t.height},
                            {"tried", t.tried}});
    }
    return textures;
}

void print_json(const InspectCommand& options, const Mesh& mesh, const Looks& looks) {
    const ModelFacts& facts = mesh.facts();
    const Json json = {{"file", options.file.string()},
                       {"format", facts.format},
                       {"bytes", mesh.file_bytes()},
                       {"import_mib", looks.import_mib},
                       {"hash", mesh.hash()},
                       {"triangles", mesh.triangle_count()},
                       {"vertices", mesh.vertices().size()},
                       {"copies", mesh.copies().size()},
                       {"stored_triangles", mesh.indices().size() / 3},
                       {"bounds", box_of(mesh.bounds())},
                       {"up", facts.up},
                       {"up_reason", facts.up_reason},
                       {"front", facts.front},
                       {"front_reason", facts.front_reason},
                       {"mm_per_unit", facts.mm_per_unit},
                       {"unit_reason", facts.unit_reason},
                       {"closed", facts.closed},
                       {"shells", facts.shells},
                       {"inner_shells", facts.inner_shells},
                       {"boundary_edges", facts.boundary_edges},
                       {"borders", facts.borders},
                       {"t_junctions", facts.t_junctions},
                       {"spikes", facts.spikes},
                       {"crowded_edges", facts.crowded_edges},
                       {"normals", facts.normals},
                       {"triangles_in_file", facts.triangles_in_file},
                       {"dropped_degenerate", facts.dropped_degenerate},
                       {"dropped_not_finite", facts.dropped_not_finite},
                       {"dropped_lines_points", facts.dropped_lines_points},
                       {"dropped_doubled", facts.dropped_doubled},
                       {"flipped_windings", facts.flipped_windings},
                       {"broken_normals", facts.broken_normals},
                       {"bones", facts.rig.bones},
                       {"clips", clips_of(facts.rig)},
                       {"shapes", shapes_of(facts.rig)},
                       {"frames", facts.rig.frames},
                       {"shown", facts.rig.shown},
                       {"warnings", facts.warnings},
                       {"parts", parts_of(mesh, looks)},
                       {"hints", hints_of(looks)},
                       {"textures", textures_of(mesh)}};
    std::puts(json.dump(2, ' ', false, Json::error_handler_t::replace).c_str());
}

void print_size(const Mesh& mesh) {
    const glm::dvec3 size = mesh.bounds().size();
    const double unit = mesh.facts().mm_per_unit;
    std::printf("size       %.6g x %.6g x %.6g units (x, y, z)", size.x, size.y, size.z);
    if (unit > 0.0) {
        std::printf(" = %.6g x %.6g x %.6g mm", unit * size.x, unit * size.y, unit * size.z);
    }
    std::printf("\nunit       %s\n", mesh.facts().unit_reason.c_str());
}

void print_faults(const ModelFacts& facts) {
    const auto line = [](std::uint64_t count, const char* what) {
        if (count > 0) std::printf("  %s %s\n", count_text(count).c_str(), what);
    };
    std::printf("faults and repairs\n");
    const std::uint64_t all = facts.dropped_degenerate + facts.dropped_not_finite +
                              facts.dropped_lines_points + facts.dropped_doubled +
                              facts.flipped_windings + facts.broken_normals + facts.boundary_edges +
                              facts.crowded_edges + facts.spikes + facts.inner_shells;
    if (all == 0) std::printf("  none\n");
    line(facts.boundary_edges, "open edges (fine for a relief where they face away)");
    line(facts.borders, "holes or borders that these edges make");
    line(facts.t_junctions, "points on the middle of an open edge, where a crack may show");
    line(facts.crowded_edges, "edges with more than two triangles");
    line(facts.inner_shells, "closed shells inside another one, where nobody sees them");
    line(facts.spikes, "spikes: points far out from a small ring (they widen the model's box)");
    line(facts.dropped_doubled, "triangles on top of others dropped (doubled shells)");
    line(facts.dropped_degenerate, "triangles without area dropped");
    line(facts.dropped_not_finite, "triangles with corners that are no numbers dropped");
    line(facts.dropped_lines_points, "lines and points dropped");
    line(facts.flipped_windings, "triangles turned to agree with their neighbours");
    line(facts.broken_normals, "broken normals made anew");
}

constexpr std::size_t shown_at_first = 40;

/// One line for each, the first forty unless all are asked for.
template <typename Facts, typename Line>
void print_list(const char* what, const Facts& facts, bool all, const Line& line) {
    if (facts.empty()) return;
    std::printf("%-10s %zu\n", what, facts.size());
    for (std::size_t i = 0; i < facts.size(); ++i) {
        if (!all && i == shown_at_first) {
            std::printf("  ... (--verbose lists all)\n");
            break;
        }
        line(facts[i]);
    }
}

void print_rig(const RigFacts& rig, bool all) {
    if (rig.bones > 0) std::printf("rig        %s bones\n", count_text(rig.bones).c_str());
    print_list("clips", rig.clips, all, [](const ClipFact& clip) {
        std::printf("  %-28s ", clip.name.c_str());
        if (clip.from_s != 0.0) std::printf("%.6g to ", clip.from_s);
        std::printf("%.6g s\n", clip.to_s);
    });
    print_list("shapes", rig.shapes, all, [](const ShapeFact& shape) {
        std::printf("  %-28s %.6g in the file\n", shape.name.c_str(), shape.weight);
    });
    if (rig.frames > 0) std::printf("frames     0 to %s\n", count_text(rig.frames - 1).c_str());
    if (!rig.shown.empty()) std::printf("shown      %s\n", rig.shown.c_str());
}

void print_parts(const Mesh& mesh, const Looks& looks, bool all) {
    std::printf("parts      %zu%s\n", mesh.parts().size(),
                looks.seen.empty() ? "" : ", with their share of what is seen from six sides");
    for (std::size_t i = 0; i < mesh.parts().size(); ++i) {
        if (!all && i == shown_at_first) {
            std::printf("  ... (--verbose lists all)\n");
            break;
        }
        const Part& part = mesh.parts()[i];
        std::printf("  %-28s %12s triangles", part.name.c_str(),
                    count_text(part.triangle_count).c_str());
        if (!looks.seen.empty()) {
            std::printf("  %5.1f %%, front %5.1f %%", 100.0 * looks.seen[i].share,
                        100.0 * looks.seen[i].front_share);
        }
        if (part.copy != no_copy)
            std::printf("   copy of %s", mesh.parts()[mesh.copies()[part.copy].of].name.c_str());
        std::printf("%s%s\n", part.material.empty() ? "" : "   material ", part.material.c_str());
    }
    for (const auto& stray : looks.strays) std::printf("hint       %s\n", stray.hint.c_str());
}

void print_textures(const Mesh& mesh) {
    const auto& textures = mesh.facts().textures;
    if (textures.empty()) return;
    std::printf("textures   %zu\n", textures.size());
    for (const auto& t : textures) {
        std::printf("  %-16s %s", t.use.c_str(), t.name.c_str());
        if (!t.material.empty()) std::printf(", material %s", t.material.c_str());
        if (t.state == "read") {
            std::printf(": %u x %u px, %s\n", t.width, t.height, t.found.c_str());
            continue;
        }
        std::printf(": %s\n", t.state.c_str());
        for (const auto& path : t.tried) std::printf("    tried %s\n", path.c_str());
    }
}

// What keeps a model's import from all but its work, on this system.
std::string confinement_text(const Confinement& confinement) {
    const std::string files = confinement.landlock_version > 0
                                  ? "reads the model's folder only (Landlock " +
                                        std::to_string(confinement.landlock_version) + ")"
                                  : "reads what you may read: this kernel has no Landlock";
    return files + (confinement.calls
                        ? "; no network, no other processes, no writing (seccomp)"
                        : "; system calls are not filtered: this kernel has no seccomp");
}

void print_text(const InspectCommand& options, const Mesh& mesh, const Looks& looks) {
    const ModelFacts& facts = mesh.facts();
    std::printf("file       %s, %s bytes, %s\n", options.file.string().c_str(),
                count_text(mesh.file_bytes()).c_str(), facts.format.c_str());
    std::printf("memory     at most %s MiB to import\n", count_text(looks.import_mib).c_str());
    std::printf("triangles  %s in %s shell%s, %s\n", count_text(mesh.triangle_count()).c_str(),
                count_text(facts.shells).c_str(), facts.shells == 1 ? "" : "s",
                facts.closed ? "closed" : "not closed");
    if (!mesh.copies().empty())
        std::printf("copies     %s; %s triangles are stored, whose shells and faults count once\n",
                    count_text(mesh.copies().size()).c_str(),
                    count_text(mesh.indices().size() / 3).c_str());
    print_size(mesh);
    std::printf("up         %s: %s\n", facts.up.c_str(), facts.up_reason.c_str());
    if (!facts.front.empty())
        std::printf("front      %s: %s\n", facts.front.c_str(), facts.front_reason.c_str());
    std::printf("normals    %s\n", facts.normals.c_str());
    print_faults(facts);
    print_rig(facts.rig, options.talk.verbose);
    print_parts(mesh, looks, options.talk.verbose);
    print_textures(mesh);
    if (!options.talk.verbose) return;
    std::printf("hash       %s\n", mesh.hash().c_str());
    std::printf("import     %s\n", confinement_text(import_confinement()).c_str());
}

void write_picture(const InspectCommand& options, const Mesh& mesh, Axis up) {
    if (options.picture.empty()) return;
    const std::string reason =
        options.up.empty() ? mesh.facts().up_reason : "as asked for; the file is not changed";
    const auto bytes =
        turnaround_picture(mesh, up,
                           options.file.filename().string() + "   up is " + axis_name(up) + ": " +
                               reason + ".   Not upright? Try --up, then set up in [model]");
    replace_file(options.picture, {reinterpret_cast<const char*>(bytes.data()), bytes.size()});
    if (!options.talk.quiet) std::fprintf(stderr, "wrote %s\n", options.picture.string().c_str());
}

// What [model] has in a scene.
void add_posing_options(CLI::App& command, PosingSettings& posing) {
    auto* clip = command.add_option("--clip", posing.clip, "Show the model at a time of this clip")
                     ->type_name("NAME");
    command.add_option("--clip-time-s", posing.clip_time_s, "The time, in seconds of the clip")
        ->type_name("SECONDS")
        ->needs(clip)
        ->check([](const std::string& text) {
            double time_s = 0.0;
            std::from_chars(text.data(), text.data() + text.size(), time_s);
            return std::isfinite(time_s) ? std::string()
                                         : "found " + text + "; expected a finite number";
        });
    command.add_flag("--rest", posing.rest, "Show the mesh as it was modelled")->excludes(clip);
}

void run(const InspectCommand& options) {
    const PosingSettings& posing = options.load.reading.posing;
    const Mesh mesh = load_model(options.file, options.load);
    if (const auto fault = posing_fault(posing, mesh.facts().rig); !fault.empty())
        throw Error(ExitCode::wrong_use, options.file.string() + ": " + fault);
    say_warnings(options.talk, options.file.filename().string(), mesh.facts().warnings);
    const Looks looks = look_at(options, mesh);
    write_picture(options, mesh, looks.up);
    if (options.talk.json) {
        print_json(options, mesh, looks);
    } else {
        print_text(options, mesh, looks);
    }
}

}  // namespace

void add_inspect(CLI::App& app, Command& command) {
    auto options = std::make_shared<InspectCommand>();
    CLI::App* sub = app.add_subcommand(
        "inspect", "Say what a model is: parts, size, up axis, whether it is closed, faults");
    sub->add_option("MODEL", options->file, "Model file")->required()->type_name("");
    sub->add_option("--picture", options->picture,
                    "Write a PNG of it from six sides, to see whether it stands upright")
        ->type_name("FILE");
    sub->add_option("--up", options->up,
                    "Which of its axes points up, to try it; a scene says it in [model] up. "
                    "Without: what the file states, or what is usual in its format")
        ->type_name("AXIS")
        ->check(CLI::IsMember({"+x", "-x", "+y", "-y", "+z", "-z"}));
    add_posing_options(*sub, options->load.reading.posing);
    sub->add_flag("--outside-files", options->load.reading.outside_files,
                  "Let the model refer to files outside its folder");
    add_load_options(*sub, options->load);
    add_talk_options(*sub, options->talk);
    sub->footer("Example:\n  rakelight inspect shell.ply --picture shell-sides.png");
    sub->final_callback([options, &command] { command = [options] { run(*options); }; });
}

}  // namespace rakelight
