// rakelight gallery: one page, one sheet and one file of figures from the folders of a sweep.

#include <CLI/CLI.hpp>
#include <cstdio>
#include <memory>

#include "cli/commands.hpp"
#include "cli/gallery_talk.hpp"
#include "cli/options.hpp"
#include "cli/terminal.hpp"
#include "error.hpp"

namespace rakelight {
namespace {

namespace fs = std::filesystem;

struct GalleryCommand {
    TalkOptions talk;
    std::vector<fs::path> folders;
    fs::path out;
    ChoiceOptions choice;
    bool part = false;
};

std::string missing_text(const std::vector<std::size_t>& missing) {
    return std::to_string(missing.size()) +
           " of the sweep's poses are missing, the first is number " +
           std::to_string(missing.front());
}

void print_json(const WrittenGallery& gallery, const fs::path& out) {
    auto shown = nlohmann::ordered_json::array();
    for (const auto place : gallery.shown) shown.push_back(gallery.joined.poses[place].record.name);
    const nlohmann::ordered_json json = {{"folder", out.string()},
                                         {"poses", gallery.joined.poses.size()},
                                         {"missing", gallery.joined.missing},
                                         {"shown", shown},
                                         {"files", gallery.files}};
    std::puts(json.dump(2, ' ', false, nlohmann::json::error_handler_t::replace).c_str());
}

void run(const GalleryCommand& options) {
    GalleryOptions gallery = gallery_options(options.choice);
    if (options.part) gallery.completeness = Completeness::part;
    if (options.out.empty() && options.folders.size() > 1)
        throw Error(ExitCode::wrong_use,
                    "found several folders and no --out; expected the folder for what they make "
                    "together");
    const fs::path out = options.out.empty() ? options.folders.front() : options.out;
    const WrittenGallery written = write_gallery(options.folders, gallery, fs::absolute(out));
    if (!written.joined.missing.empty())
        say_warnings(options.talk, out.string(), {missing_text(written.joined.missing)});
    if (options.talk.json) return print_json(written, fs::absolute(out));
    if (options.talk.quiet) return;
    print_poses(written);
    std::printf("%s\n", (out / "gallery.html").string().c_str());
}

}  // namespace

void add_gallery(CLI::App& app, Command& command) {
    auto options = std::make_shared<GalleryCommand>();
    CLI::App* sub = app.add_subcommand(
        "gallery", "Join the shards of a sweep, or show its poses in another order, on one page");
    sub->add_option("FOLDER", options->folders, "Folders that `poses` has written")
        ->required()
        ->type_name("");
    sub->add_option("--out", options->out,
                    "Folder for poses.json, sheet.png and gallery.html; without: the folder itself")
        ->type_name("FOLDER");
    add_choice_options(*sub, options->choice);
    sub->add_flag("--part", options->part, "Accept that poses are missing");
    add_talk_options(*sub, options->talk);
    sub->footer("Example:\n  rakelight gallery medal-poses --best 12 --by crevice_share");
    sub->final_callback([options, &command] { command = [options] { run(*options); }; });
}

}  // namespace rakelight
