// corpus check|write TABLE MODELS: what the command makes of each model file in the folder MODELS,
// compared with a table, or written as one.

#include <algorithm>
#include <assimp/Importer.hpp>
#include <atomic>
#include <cstdio>
#include <cstring>
#include <iostream>
#include <mutex>
#include <set>
#include <thread>

#define DOCTEST_CONFIG_IMPLEMENT  // what cli_support asserts with, outside of any test case
#include "support.hpp"
#include "table.hpp"
#include "verdict.hpp"

namespace {

namespace fs = std::filesystem;
using corpus::Row;
using corpus::Table;
using corpus::Verdict;

constexpr int skipped = 77;

std::string small(std::string text) {
    std::transform(text.begin(), text.end(), text.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return text;
}

/// ".3ds", ".obj" ...: what the importer says that it knows.
std::vector<std::string> known_extensions() {
    aiString list;
    Assimp::Importer().GetExtensionList(list);
    std::vector<std::string> extensions;
    for (const char* at = list.C_Str(); *at != '\0';) {
        const std::size_t size = std::strcspn(at, ";");
        extensions.emplace_back(at + 1, size - 1);  // without the star
        at += size + (at[size] == ';' ? 1 : 0);
    }
    return extensions;
}

// Refused for the memory that it asks for. Under a sanitizer the import has no limit to run into.
bool needs_the_limit(const std::string& file) {
    return file.ends_with("library_animation_clips.dae");
}

bool is_model(const fs::path& file, const std::vector<std::string>& extensions) {
#ifdef RAKELIGHT_SANITIZED
    if (needs_the_limit(file.filename().string())) return false;
#endif
    const std::string name = small(file.filename().string());
    return std::any_of(extensions.begin(), extensions.end(),
                       [&](const std::string& e) { return name.ends_with(e); });
}

std::vector<std::string> list_models(const fs::path& folder) {
    const auto extensions = known_extensions();
    std::vector<std::string> files;
    for (const auto& entry : fs::recursive_directory_iterator(folder))
        if (entry.is_regular_file() && is_model(entry.path(), extensions))
            files.push_back(entry.path().lexically_relative(folder).string());
    std::sort(files.begin(), files.end());
    return files;
}

std::vector<Verdict> judge_all(const fs::path& models, const std::vector<std::string>& files) {
    std::vector<Verdict> verdicts(files.size());
    std::atomic<std::size_t> next{0};
    const auto work = [&] {
        for (std::size_t i; (i = next++) < files.size();) {
            const cli_test::Place place;
            verdicts[i] = corpus::judge(models, files[i], place.folder());
            fs::remove_all(place.folder());
        }
    };
    std::vector<std::thread> threads(std::max(2u, std::thread::hardware_concurrency()));
    for (auto& thread : threads) thread = std::thread(work);
    for (auto& thread : threads) thread.join();
    return verdicts;
}

int say(const std::string& file, const std::string& what) {
    std::cout << file << ": " << what << '\n';
    return 1;
}

int check_rows(const std::vector<Verdict>& verdicts, const Table& table) {
    int faults = 0;
    std::set<std::string> seen;
    for (const Verdict& verdict : verdicts) {
        const Row& row = verdict.row;
        seen.insert(row.file);
        for (const std::string& fault : verdict.faults) faults += say(row.file, fault);
        const auto expected = table.find(row.file);
        if (expected == table.end()) {
            faults += say(row.file, "it is not in the table");
            continue;
        }
        const std::string words = corpus::difference(expected->second, row);
        if (!words.empty()) faults += say(row.file, words);
        if (row.verdict == "refused" && expected->second.note.empty())
            faults += say(row.file, "it is refused, and the table has no note that says why");
    }
    for (const auto& [file, row] : table)
        if (!seen.contains(file) && !needs_the_limit(file))
            faults += say(file, "the table has it, the package does not");
    return faults;
}

void write_rows(const std::vector<Verdict>& verdicts, Table& table, const fs::path& file) {
    Table written;
    for (const Verdict& verdict : verdicts) {
        for (const std::string& fault : verdict.faults) say(verdict.row.file, fault);
        Row& row = written[verdict.row.file] = verdict.row;
        if (const auto old = table.find(row.file); old != table.end()) row.note = old->second.note;
        if (row.verdict == "refused" && row.note.empty()) say(row.file, "needs a note");
    }
    corpus::write_table(file, written);
}

int run(const std::string& task, const fs::path& file, const fs::path& models) {
    if (!fs::exists(models)) {
        std::cout << "skipped: " << models.string()
                  << " is not there; the package assimp-testmodels has it\n";
        return skipped;
    }
    Table table;
    if (fs::exists(file)) table = corpus::read_table(file);
    cli_test::root_folder();  // made before there are threads
    const auto verdicts = judge_all(models, list_models(models));
    if (task == "write") {
        write_rows(verdicts, table, file);
        return 0;
    }
    const int faults = check_rows(verdicts, table);
    std::cout << verdicts.size() << " models, " << faults << " faults\n";
    return faults == 0 ? 0 : 1;
}

}  // namespace

int main(int count, char** words) try {
    doctest::Context asserts;
    asserts.setAsDefaultForAssertsOutOfTestCases();
    const std::string task = count == 4 ? words[1] : "";
    if (task != "check" && task != "write") {
        std::cerr << "use: corpus check|write TABLE MODELS\n";
        return 2;
    }
    return run(task, words[2], words[3]);
} catch (const std::exception& e) {
    std::cerr << e.what() << '\n';
    return 1;
}
