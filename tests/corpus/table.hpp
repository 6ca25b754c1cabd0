#pragma once
// The table of models: one row each, sorted by file, as comma-separated values (RFC 4180).

#include <filesystem>
#include <map>
#include <string>

namespace corpus {

struct Row {
    std::string file;     ///< relative to the package's folder
    std::string verdict;  ///< "rendered" or "refused"
    std::string format;   ///< the rest as inspect says it; empty where refused
    std::string triangles;
    std::string up;
    std::string mm_per_unit;  ///< "0": not known
    std::string exit_code;
    std::string reason;  ///< of a refusal: what was found, without what to do
    std::string note;    ///< written by hand: why that is right; every refusal has one
};

using Table = std::map<std::string, Row>;

/// Throws std::runtime_error with the line that cannot be read.
Table read_table(const std::filesystem::path& file);
void write_table(const std::filesystem::path& file, const Table& table);

/// How a row differs from what was found, in words; empty when not at all. Notes do not count.
std::string difference(const Row& expected, const Row& found);

}  // namespace corpus
