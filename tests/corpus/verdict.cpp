#include "verdict.hpp"

#include <algorithm>
#include <cstdio>
#include <fstream>
#include <nlohmann/json.hpp>

#include "pictures.hpp"
#include "process.hpp"

namespace corpus {
namespace {

namespace fs = std::filesystem;
using cli_test::Ended;
using cli_test::Words;
using Json = nlohmann::json;

Ended run(Words words) {
    for (const char* word : {"--no-cache", "--import-wall-s", "60", "--import-cpu-s", "60",
                             "--import-memory-mib", "2048"})
        words.emplace_back(word);
    return cli_test::rakelight(words);
}

// Turned, so that no flat model is seen along its face.
void write_scene(const fs::path& scene, const fs::path& model) {
    std::ofstream(scene) << "[blank]\nshape = \"rectangle\"\nwidth_mm = 30.0\nheight_mm = 30.0\n"
                         << "[model]\nfile = '" << model.string() << "'\n"
                         << "[pose]\nyaw_deg = 25\npitch_deg = 12\n[image]\npx_per_mm = 3\n"
                         << "[pass.depth]\n[pass.silhouette]\n";
}

/// The error's line, without the program's and the model's name.
std::string message_of(const std::string& err, const std::string& model) {
    const std::size_t at = err.find("error: ");
    if (at == std::string::npos) return {};
    std::string line = err.substr(at + 7, err.find('\n', at) - at - 7);
    if (line.starts_with(model + ": ")) line = line.substr(model.size() + 2);
    return line;
}

std::string number_text(double value) {
    char text[32];
    std::snprintf(text, sizeof text, "%g", value);
    return text;
}

/// Faults of how a run ended, whatever it was for.
void check_end(const Ended& ended, const std::string& what, std::vector<std::string>& faults) {
    if (ended.timed_out) faults.push_back(what + " did not end");
    if (ended.signal != 0)
        faults.push_back(what + " ended by signal " + std::to_string(ended.signal));
    if (ended.code == 1) faults.push_back(what + " calls it its own fault: " + ended.err);
    if (ended.code != 0 && message_of(ended.err, "").empty())
        faults.push_back(what + " says nothing");
    if (std::count(ended.err.begin(), ended.err.end(), '\n') > 1 && ended.code != 0)
        faults.push_back(what + " does not say it in one line: " + ended.err);
}

void read_facts(const std::string& text, Row& row) {
    const Json facts = Json::parse(text);
    row.format = facts.at("format");
    row.triangles = std::to_string(facts.at("triangles").get<std::uint64_t>());
    row.up = facts.at("up");
    row.mm_per_unit = number_text(facts.at("mm_per_unit"));
}

bool shows_something(const fs::path& silhouette) {
    const auto picture = cli_test::read_picture(silhouette);
    return std::any_of(picture.codes.begin(), picture.codes.end(), [](auto c) { return c > 0; });
}

}  // namespace

Verdict judge(const fs::path& models, const std::string& file, const fs::path& folder) {
    Verdict verdict;
    Row& row = verdict.row;
    const std::string model = (models / file).string();
    row.file = file;
    const Ended inspected = run({"inspect", "--json", model});
    check_end(inspected, "inspect", verdict.faults);
    if (inspected.code == 0) read_facts(inspected.out, row);

    write_scene(folder / "scene.toml", model);
    const Ended rendered = run({"render", folder / "scene.toml", "--no-proof", "--context",
                                "processor", "--out", folder / "out", "--quiet"});
    check_end(rendered, "render", verdict.faults);
    row.verdict = rendered.code == 0 ? "rendered" : "refused";
    row.exit_code = std::to_string(rendered.code);
    const std::string message = message_of(rendered.err, model);
    if (rendered.code != 0) row.reason = message.substr(0, message.find(';'));
    if (inspected.code != 0 &&
        (rendered.code != inspected.code || message != message_of(inspected.err, model)))
        verdict.faults.push_back("render ends other than inspect: " + inspected.err + rendered.err);
    if (rendered.code == 0 && !shows_something(folder / "out/silhouette.png"))
        verdict.faults.push_back("the picture is empty");
    return verdict;
}

}  // namespace corpus
