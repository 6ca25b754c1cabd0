#include "support.hpp"

#include <unistd.h>

#include <atomic>
#include <fstream>
#include <iterator>

namespace cli_test {
namespace {

struct RootFolder {
    fs::path path;
    RootFolder() {
        std::string name = (fs::temp_directory_path() / "rakelight-cli-XXXXXX").string();
        if (::mkdtemp(name.data()) == nullptr) throw std::runtime_error("no temporary folder");
        path = fs::canonical(name);
        fs::create_directory(path / "cache");
        fs::create_directory(path / "tmp");
    }
    RootFolder(const RootFolder&) = delete;
    RootFolder& operator=(const RootFolder&) = delete;
    ~RootFolder() {
        std::error_code ignored;
        fs::remove_all(path, ignored);
    }
};

}  // namespace

const fs::path& root_folder() {
    static const RootFolder folder;
    return folder.path;
}

Place::Place() {
    static std::atomic<int> count{0};
    folder_ = root_folder() / ("test-" + std::to_string(++count));
    fs::create_directory(folder_);
}

void write_file(const fs::path& file, const std::string& bytes) {
    std::ofstream stream(file, std::ios::binary);
    stream << bytes;
    stream.close();
    REQUIRE(stream.good());
}

std::string read_file(const fs::path& file) {
    std::ifstream stream(file, std::ios::binary);
    REQUIRE_MESSAGE(stream.good(), file.string());
    return {std::istreambuf_iterator<char>(stream), {}};
}

bool contains(const std::string& text, const std::string& part) {
    return text.find(part) != std::string::npos;
}

Snapshot snapshot(const fs::path& folder) {
    Snapshot files;
    for (const auto& entry : fs::recursive_directory_iterator(folder)) {
        if (!entry.is_regular_file()) continue;
        files[entry.path().lexically_relative(folder).string()] = read_file(entry.path());
    }
    return files;
}

Snapshot lasting_files(const fs::path& folder) {
    Snapshot files = snapshot(folder);
    std::erase_if(files, [](const auto& file) { return file.first.ends_with("timings.json"); });
    return files;
}

std::vector<std::string> differences(const Snapshot& a, const Snapshot& b) {
    std::vector<std::string> names;
    for (const auto& [name, bytes] : a) {
        const auto other = b.find(name);
        if (other == b.end() || other->second != bytes) names.push_back(name);
    }
    for (const auto& [name, bytes] : b) {
        if (a.count(name) == 0) names.push_back(name);
    }
    return names;
}

std::string SceneText::text() const {
    return "[blank]\n" + blank + "[model]\n" + model + "[pose]\n" + pose + "[framing]\n" + framing +
           "[image]\n" + image + passes + more;
}

SceneText with_relief(const std::string& relief) {
    SceneText scene;
    scene.more = "[relief]\n" + relief;
    return scene;
}

void check_refused(const Ended& ended, int code, const Words& words) {
    INFO("stderr: " << ended.err);
    CHECK(ended.code == code);
    CHECK(ended.signal == 0);
    CHECK(ended.out == "");
    CHECK(contains(ended.err, "rakelight: error: "));
    for (const auto& word : words) CHECK_MESSAGE(contains(ended.err, word), "expected: " << word);
}

const Json& Rendered::numbers(const std::string& pass) const {
    for (const auto& one : manifest.at("passes")) {
        if (one.at("name") == pass) return one.at("numbers");
    }
    FAIL("the manifest has no pass " << pass);
    return manifest;
}

Rendered render(const fs::path& scene, const fs::path& out, Words more) {
    more.insert(more.begin(), {"render", scene.string(), "--no-proof", "--out", out.string()});
    const Ended ended = rakelight(more);
    INFO(ended.err);
    REQUIRE(ended.code == 0);
    return {out, Json::parse(read_file(out / "manifest.json")), ended};
}

Rendered render(const Place& place, const SceneText& scene, const std::string& name, Words more) {
    write_file(place / (name + ".toml"), scene.text());
    return render(place / (name + ".toml"), place / name, std::move(more));
}

}  // namespace cli_test
