#pragma once
// Files that appear together or not at all.

#include <cstddef>
#include <filesystem>
#include <span>
#include <string>
#include <vector>

namespace rakelight {

/// Writes files into one folder. Each goes to a hidden temporary beside its final name; commit()
/// renames them all, in the order they were added, the last one last (the manifest, which so
/// vouches for the rest). Destroyed without commit(), it removes every temporary. A folder that it
/// had to create and that stayed empty is removed too. Every write, flush, close and rename is
/// checked; add() may be called from several threads at once.
class OutputSet {
public:
    /// Creates the folder if needed. Throws Error(not_written).
    explicit OutputSet(std::filesystem::path folder);
    ~OutputSet();
    OutputSet(const OutputSet&) = delete;
    OutputSet& operator=(const OutputSet&) = delete;

    /// Throws Error(not_written) naming the file and the system's reason.
    void add(const std::string& name, std::span<const std::byte> bytes);
    void add(const std::string& name, const std::string& text);
    /// Order of the renames: names given here, in this order, come last.
    void commit(const std::vector<std::string>& last = {});
    const std::filesystem::path& folder() const;

private:
    struct State;
    State* state_;
};

/// One file written atomically in place (temporary beside it, then rename), its permissions kept
/// when it exists. Throws Error(not_written).
void replace_file(const std::filesystem::path& path, const std::string& text);

}  // namespace rakelight
