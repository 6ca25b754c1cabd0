#pragma once
// Files that appear together or not at all.

#include <cstddef>
#include <filesystem>
#include <memory>
#include <span>
#include <string>
#include <vector>

namespace rakelight {

/// Writes files into one folder. Each goes to a hidden temporary beside its final name; commit()
/// renames them all, in the order they were added, the last one last (the manifest, which so
/// vouches for the rest). Destroyed without commit(), it removes every temporary. A folder that it
/// had to create and that stayed empty is removed too. Every write, close and rename is checked;
/// add() may be called from several threads at once.
///
/// Temporaries are named `.rakelight-MACHINE-PROCESS-NUMBER.tmp`. One that a killed process left
/// behind is removed when the next set opens the folder: at once when its process is known to be
/// gone, after a day when it comes from another machine or container.
class OutputSet {
public:
    /// Creates the folder, and those above it, if needed. Throws Error(not_written).
    explicit OutputSet(std::filesystem::path folder);
    ~OutputSet();
    OutputSet(const OutputSet&) = delete;
    OutputSet& operator=(const OutputSet&) = delete;

    /// @param name   a file name without folder; a second file of this name is an error
    /// Throws Error(not_written) naming the file and the system's reason.
    void add(const std::string& name, std::span<const std::byte> bytes);
    void add(const std::string& name, const std::string& text);

    /// A file that is written piece by piece; it counts from its close() on. One that is destroyed
    /// before that is removed. The set must outlive it.
    class File {
    public:
        virtual ~File() = default;
        /// Both throw Error(not_written) naming the file and the system's reason.
        virtual void write(std::span<const std::byte> bytes) = 0;
        virtual void close() = 0;
    };
    std::unique_ptr<File> open(const std::string& name);

    /// Order of the renames: names given here, in this order, come last; a name that was not added
    /// is skipped. The very last vouches for the rest: its predecessor is taken away before the
    /// first rename, so that a process that is killed meanwhile leaves whole files of two runs, but
    /// nothing that vouches for them. When a rename fails, what was there before is put back (by
    /// hard links, where the file system has them), the temporaries are removed, and
    /// Error(not_written) is thrown. SIGINT and SIGTERM wait for the end of it.
    ///
    /// A file that is there already with the same bytes stays as it is, time of change and all; the
    /// one that vouches stays only when all others do, so that its time says when any of them last
    /// changed.
    /// @param incidental  files that differ with every run: always replaced, and their change is
    /// none
    void commit(const std::vector<std::string>& last = {},
                const std::vector<std::string>& incidental = {});
    const std::filesystem::path& folder() const;

    struct State;  // private to output_set.cpp

private:
    std::unique_ptr<State> state_;
};

/// One file written atomically in place (temporary beside it, then rename), its permissions kept
/// when it exists. A symbolic link stays, the file behind it is replaced. Throws
/// Error(not_written), also when the file is write-protected.
void replace_file(const std::filesystem::path& path, const std::string& text);

}  // namespace rakelight
