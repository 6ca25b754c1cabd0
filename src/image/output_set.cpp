#include "image/output_set.hpp"

#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <cerrno>
#include <charconv>
#include <chrono>
#include <csignal>
#include <cstdint>
#include <cstdio>
#include <mutex>
#include <optional>
#include <string_view>
#include <system_error>
#include <thread>
#include <utility>

#include "error.hpp"
#include "image/same_bytes.hpp"

namespace rakelight {
namespace {

namespace fs = std::filesystem;

constexpr std::string_view temporary_prefix = ".rakelight-";
constexpr std::string_view temporary_suffix = ".tmp";

std::string reason(int error) {
    return std::system_category().message(error);
}

std::string refusal(const fs::path& path, const std::string& why) {
    return "cannot write '" + path.string() + "': " + why;
}

[[noreturn]] void fail(const fs::path& path, const std::string& why) {
    throw Error(ExitCode::not_written, refusal(path, why));
}

/// A folder that was there a moment ago is not there any more. One that another process took away
/// again because it was empty can be made once more.
class FolderGone : public Error {
public:
    explicit FolderGone(const fs::path& path)
        : Error(ExitCode::not_written,
                refusal(path, "the folder was removed meanwhile; keep it until the command ends")) {
    }
};

// ---- Names of temporaries ----

/// Tells apart machines, and containers of one machine, that share a folder: a process number
/// means nothing outside of its own. FNV-1a over the host's name and the process namespace.
std::string machine_tag() {
    std::array<char, 512> text{};
    const ssize_t space = ::readlink("/proc/self/ns/pid", text.data(), 200);  // Linux only
    const std::size_t used = space > 0 ? static_cast<std::size_t>(space) : 0;
    ::gethostname(text.data() + used, text.size() - used - 1);
    std::uint32_t hash = 2166136261U;
    for (const char letter : std::string_view(text.data())) {
        hash = (hash ^ static_cast<unsigned char>(letter)) * 16777619U;
    }
    std::array<char, 9> hex{};
    std::snprintf(hex.data(), hex.size(), "%08x", hash);
    return hex.data();
}

std::string temporary_name() {
    static std::atomic<unsigned> next{0};
    std::string name(temporary_prefix);
    name += machine_tag() + "-" + std::to_string(::getpid()) + "-" + std::to_string(next++);
    return name.append(temporary_suffix);
}

struct TemporaryOwner {
    std::string machine;
    pid_t process = 0;
};

/// Reads a temporary's name; nothing when the name is not one of ours.
std::optional<TemporaryOwner> temporary_owner(std::string_view name) {
    if (!name.starts_with(temporary_prefix) || !name.ends_with(temporary_suffix)) return {};
    name.remove_prefix(temporary_prefix.size());
    const std::size_t dash = name.find('-');
    if (dash == std::string_view::npos) return {};
    TemporaryOwner owner{std::string(name.substr(0, dash)), 0};
    const char* end = name.data() + name.size();
    const auto [rest, error] = std::from_chars(name.data() + dash + 1, end, owner.process);
    if (error != std::errc() || rest == end || *rest != '-' || owner.process <= 0) return {};
    return owner;
}

bool is_abandoned(const TemporaryOwner& owner, const fs::directory_entry& entry) {
    if (owner.machine == machine_tag()) return ::kill(owner.process, 0) != 0 && errno == ESRCH;
    std::error_code error;
    const auto written = entry.last_write_time(error);
    return !error && fs::file_time_type::clock::now() - written > std::chrono::hours(24);
}

/// Best effort: what cannot be listed or removed harms nobody.
void remove_abandoned_temporaries(const fs::path& folder) {
    std::error_code error;
    for (fs::directory_iterator it(folder, error), end; !error && it != end; it.increment(error)) {
        const auto owner = temporary_owner(it->path().filename().native());
        if (owner && is_abandoned(*owner, *it)) ::unlink(it->path().c_str());
    }
}

// ---- Folders ----

bool is_folder(const fs::path& path) {
    struct stat status {};
    return ::stat(path.c_str(), &status) == 0 && S_ISDIR(status.st_mode);
}

bool is_missing(const fs::path& path) {
    struct stat status {};
    return ::stat(path.c_str(), &status) != 0 && errno == ENOENT;
}

/// Nothing has this name, not even a link that leads nowhere.
bool is_free(const fs::path& path) {
    struct stat status {};
    return ::lstat(path.c_str(), &status) != 0 && errno == ENOENT;
}

/// Creates a folder and those above it.
/// @param created  receives the folders that were not there, outermost first
/// @throws FolderGone  one that was there or that it made was removed meanwhile
void create_folders(const fs::path& folder, std::vector<fs::path>& created) {
    std::vector<fs::path> missing;
    fs::path at = folder;
    while (!at.empty() && is_missing(at)) {
        missing.push_back(at);
        at = at.parent_path();
    }
    struct stat status {};
    if (!at.empty() && ::stat(at.c_str(), &status) != 0) {
        if (errno == ENOENT) throw FolderGone(folder);
        fail(at, reason(errno));
    }
    if (!at.empty() && !S_ISDIR(status.st_mode)) fail(at, "it is a file, expected a folder");
    for (auto it = missing.rbegin(); it != missing.rend(); ++it) {
        if (::mkdir(it->c_str(), 0777) == 0) {
            created.push_back(*it);
        } else if (const int error = errno; error != EEXIST) {  // another may have been faster
            if (error == ENOENT && is_free(it->parent_path())) throw FolderGone(folder);
            fail(*it, reason(error));
        }
    }
    if (is_folder(folder)) return;
    if (is_free(folder)) throw FolderGone(folder);
    fail(folder, "it is not a folder, and none can be made of it");
}

/// Tries again where another process took a folder away that was empty.
template <typename Step>
void in_spite_of_removals(const Step& step) {
    for (int tries = 3;; --tries) {
        try {
            return step();
        } catch (const FolderGone&) {
            if (tries == 1) throw;
        }
    }
}

// ---- Files ----

/// A file of a name that nobody else has, removed again unless released.
class Temporary {
public:
    /// @param wanted  the final name, for messages
    /// @throws FolderGone  there is no such folder
    Temporary(const fs::path& folder, fs::path wanted) : wanted_(std::move(wanted)) {
        do {  // a number may be taken by a process of a container that looks the same
            path_ = folder / temporary_name();
            file_ = ::open(path_.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
        } while (file_ < 0 && (errno == EEXIST || errno == EINTR));
        if (file_ < 0 && errno == ENOENT) throw FolderGone(wanted_);
        if (file_ < 0) fail(wanted_, reason(errno));
    }
    ~Temporary() {
        if (file_ >= 0) ::close(file_);
        if (!path_.empty()) ::unlink(path_.c_str());
    }
    Temporary(const Temporary&) = delete;
    Temporary& operator=(const Temporary&) = delete;

    void write(std::span<const std::byte> bytes) {
        std::size_t done = 0;
        while (done < bytes.size()) {
            const ssize_t step = ::write(file_, bytes.data() + done, bytes.size() - done);
            if (step < 0 && errno == EINTR) continue;
            if (step <= 0) {
                fail(wanted_, reason(step < 0 ? errno : EIO) + " (after " + std::to_string(done) +
                                  " of " + std::to_string(bytes.size()) + " bytes)");
            }
            done += static_cast<std::size_t>(step);
        }
    }

    /// Owner where we may, and permissions, as another file has them.
    void look_like(const struct stat& other) {
        // Giving files away takes a privilege that is seldom there and seldom needed.
        if (::fchown(file_, other.st_uid, other.st_gid) != 0) errno = 0;
        if (::fchmod(file_, other.st_mode & 07777) != 0) fail(wanted_, reason(errno));
    }

    void close() {
        const int result = ::close(std::exchange(file_, -1));
        // After EINTR the descriptor is gone and the data is with the system all the same.
        if (result != 0 && errno != EINTR) fail(wanted_, reason(errno));
    }

    fs::path release() { return std::exchange(path_, {}); }
    const fs::path& path() const { return path_; }

private:
    fs::path wanted_;
    fs::path path_;
    int file_ = -1;
};

/// Only a regular file is replaced: never a folder, nor a device such as /dev/stdout.
void check_target(const fs::path& target) {
    struct stat status {};
    if (::stat(target.c_str(), &status) != 0 || S_ISREG(status.st_mode)) return;
    fail(target, S_ISDIR(status.st_mode) ? "a folder of this name is in the way"
                                         : "what has this name is not a regular file");
}

void rename_onto(const fs::path& from, const fs::path& to) {
    if (::rename(from.c_str(), to.c_str()) == 0) return;
    const int error = errno;
    const bool gone = error == ENOENT && is_free(from);
    fail(to, gone ? "what was written of it was removed meanwhile; keep the folder and the hidden "
                    "files in it until the command ends"
                  : reason(error));
}

/// A file on its way: complete under its temporary name, not yet seen under its own.
struct Pending {
    std::string name;
    fs::path temporary;
    fs::path before;         ///< a second name of the file that is replaced; empty: none
    bool was_there = false;  ///< before the rename
    bool touched = false;    ///< what was there is no longer under its name
    bool kept = false;       ///< the same is there already, and stays
};

/// Gives the file that is about to be replaced a second name. Without hard links (or for somebody
/// else's file) there is none, and this one file cannot be put back.
void keep_before(const fs::path& folder, Pending& file) {
    const fs::path target = folder / file.name;
    struct stat status {};
    file.was_there = ::lstat(target.c_str(), &status) == 0;
    if (!file.was_there) return;
    const fs::path second = folder / temporary_name();
    if (::link(target.c_str(), second.c_str()) == 0) file.before = second;
}

/// Takes away the file that vouches for the others: not even a process that is killed between two
/// renames may leave it beside files of another run.
void withdraw(const fs::path& folder, Pending& file) {
    if (!file.was_there) return;
    const fs::path target = folder / file.name;
    if (!file.before.empty()) {
        if (::unlink(target.c_str()) != 0 && errno != ENOENT) fail(target, reason(errno));
    } else {
        const fs::path second = folder / temporary_name();
        if (::rename(target.c_str(), second.c_str()) == 0) {
            file.before = second;
        } else if (errno != ENOENT) {  // somebody was faster
            fail(target, reason(errno));
        }
    }
    file.touched = true;
}

void put_back(const fs::path& folder, const Pending& file) noexcept {
    if (!file.touched) return;
    const fs::path target = folder / file.name;
    if (!file.before.empty()) {
        ::rename(file.before.c_str(), target.c_str());
    } else if (!file.was_there) {
        ::unlink(target.c_str());
    }
}

/// One process at a time renames in a folder, so that what two write there does not mix. Best
/// effort: some network file systems have no locks, and nobody waits for a process that is stuck.
class FolderLock {
public:
    explicit FolderLock(const fs::path& folder)
        : folder_(::open(folder.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC)) {
        for (int i = 0; i < 200 && folder_ >= 0; ++i) {  // two seconds for a few renames
            if (::flock(folder_, LOCK_EX | LOCK_NB) == 0 || errno != EWOULDBLOCK) return;
            std::this_thread::sleep_for(std::chrono::milliseconds(10));
        }
    }
    ~FolderLock() {
        if (folder_ >= 0) ::close(folder_);
    }
    FolderLock(const FolderLock&) = delete;
    FolderLock& operator=(const FolderLock&) = delete;

private:
    int folder_;
};

/// Puts signals off that ask the process to end: the renames take a moment, and a second Ctrl-C,
/// which ends the process at once, shall not do so among them.
class SignalsHeld {
public:
    SignalsHeld() {
        sigset_t asking;
        sigemptyset(&asking);
        for (const int number : {SIGINT, SIGTERM, SIGHUP}) sigaddset(&asking, number);
        pthread_sigmask(SIG_BLOCK, &asking, &before_);
    }
    ~SignalsHeld() { pthread_sigmask(SIG_SETMASK, &before_, nullptr); }
    SignalsHeld(const SignalsHeld&) = delete;
    SignalsHeld& operator=(const SignalsHeld&) = delete;

private:
    sigset_t before_{};
};

/// Renames all, or puts everything back and throws.
void rename_all(const fs::path& folder, std::vector<Pending>& files) {
    try {
        for (Pending& file : files) {
            if (!file.kept) keep_before(folder, file);
        }
        if (files.size() > 1 && !files.back().kept) withdraw(folder, files.back());
        for (Pending& file : files) {
            if (file.kept) continue;
            rename_onto(file.temporary, folder / file.name);
            file.touched = true;
        }
    } catch (...) {
        // The one that vouches comes back last here too.
        for (const Pending& file : files) put_back(folder, file);
        throw;
    }
}

/// Marks what is there already, byte for byte, as kept: its time of change then says when it last
/// changed, and not when somebody last looked whether it does. The last one is kept only when all
/// are: it tells of the others.
/// @param incidental  files that are written either way, and do not count in this
void mark_kept(const fs::path& folder, std::vector<Pending>& files,
               const std::vector<std::string>& incidental) {
    bool all = true;
    for (Pending& file : files) {
        if (std::find(incidental.begin(), incidental.end(), file.name) != incidental.end())
            continue;
        file.kept = same_bytes(folder / file.name, file.temporary);
        all = all && file.kept;
    }
    if (!all) files.back().kept = false;
}

/// The order of the renames: as added, then those of `last`, in its order.
void sort_last(std::vector<Pending>& files, const std::vector<std::string>& last) {
    const auto rank = [&last](const Pending& file) {
        const auto found = std::find(last.begin(), last.end(), file.name);
        return found == last.end() ? 0 : 1 + (found - last.begin());
    };
    std::stable_sort(files.begin(), files.end(),
                     [&rank](const Pending& a, const Pending& b) { return rank(a) < rank(b); });
}

}  // namespace

struct OutputSet::State {
    fs::path folder;
    std::vector<fs::path> created;   ///< folders that were not there, outermost first
    std::mutex mutex;                ///< guards what follows, and `created` after the constructor
    std::vector<std::string> names;  ///< of all files added, those being written too
    std::vector<Pending> files;

    ~State() {
        forget();
        // Takes empty folders only: one that got a file, from us or from somebody else, stays.
        for (auto it = created.rbegin(); it != created.rend(); ++it) ::rmdir(it->c_str());
    }

    /// Removes what still has a temporary name, and starts over.
    void forget() noexcept {
        for (const Pending& file : files) {
            ::unlink(file.temporary.c_str());
            if (!file.before.empty()) ::unlink(file.before.c_str());
        }
        files.clear();
        names.clear();
    }

    /// Reserves a name.
    void claim(const std::string& name) {
        if (name.empty() || name == "." || name == ".." || name.find('/') != std::string::npos ||
            name.find('\0') != std::string::npos) {
            fail(folder, "'" + std::string(name.c_str()) + "' is not a file name");
        }
        const fs::path target = folder / name;
        check_target(target);
        const std::lock_guard lock(mutex);
        if (std::find(names.begin(), names.end(), name) != names.end()) {
            fail(target, "two outputs have this name");
        }
        names.push_back(name);
    }

    void release(const std::string& name) {
        const std::lock_guard lock(mutex);
        std::erase(names, name);
    }

    void make_folder() {
        if (is_folder(folder)) return;
        // Another set that had created it took it away again.
        const std::lock_guard lock(mutex);
        create_folders(folder, created);
    }
};

namespace {

class OpenFile final : public OutputSet::File {
public:
    OpenFile(OutputSet::State& state, std::string name)
        : state_(state), name_(std::move(name)), claim_(state_, name_) {
        in_spite_of_removals([&] {
            state_.make_folder();
            temporary_.emplace(state_.folder, state_.folder / name_);
        });
    }
    void write(std::span<const std::byte> bytes) override { temporary_->write(bytes); }
    void close() override {
        temporary_->close();
        const std::lock_guard lock(state_.mutex);
        state_.files.push_back({name_, temporary_->path(), {}});
        temporary_->release();
        claim_.keep();
    }

private:
    // A name that is free again when the file comes to nothing.
    class Claim {
    public:
        Claim(OutputSet::State& state, const std::string& name) : state_(state), name_(name) {
            state_.claim(name_);
        }
        ~Claim() {
            if (!kept_) state_.release(name_);
        }
        Claim(const Claim&) = delete;
        Claim& operator=(const Claim&) = delete;
        void keep() { kept_ = true; }

    private:
        OutputSet::State& state_;
        const std::string& name_;
        bool kept_ = false;
    };

    OutputSet::State& state_;
    std::string name_;
    Claim claim_;
    std::optional<Temporary> temporary_;
};

}  // namespace

OutputSet::OutputSet(std::filesystem::path folder) : state_(std::make_unique<State>()) {
    state_->folder = folder.empty() ? fs::path(".") : std::move(folder);
    in_spite_of_removals([&] { create_folders(state_->folder, state_->created); });
    remove_abandoned_temporaries(state_->folder);
}

OutputSet::~OutputSet() = default;

std::unique_ptr<OutputSet::File> OutputSet::open(const std::string& name) {
    return std::make_unique<OpenFile>(*state_, name);
}

void OutputSet::add(const std::string& name, std::span<const std::byte> bytes) {
    const auto file = open(name);
    file->write(bytes);
    file->close();
}

void OutputSet::add(const std::string& name, const std::string& text) {
    add(name, std::as_bytes(std::span(text)));
}

void OutputSet::commit(const std::vector<std::string>& last,
                       const std::vector<std::string>& incidental) {
    const std::lock_guard lock(state_->mutex);
    const fs::path& folder = state_->folder;
    std::vector<Pending>& files = state_->files;
    sort_last(files, last);
    for (const Pending& file : files) check_target(folder / file.name);
    const FolderLock alone(folder);
    mark_kept(folder, files, incidental);
    const SignalsHeld held;
    try {
        rename_all(folder, files);
    } catch (...) {
        state_->forget();
        throw;
    }
    state_->forget();
}

const std::filesystem::path& OutputSet::folder() const {
    return state_->folder;
}

void replace_file(const std::filesystem::path& path, const std::string& text) {
    // The file behind a symbolic link is the one to replace; a path without a file stays as it is.
    std::error_code error;
    const fs::path resolved = fs::canonical(path, error);
    const fs::path target = error ? path : resolved;
    check_target(target);
    struct stat status {};
    const bool exists = ::stat(target.c_str(), &status) == 0;
    if (exists && ::access(target.c_str(), W_OK) != 0) fail(path, reason(errno));

    const fs::path parent = target.parent_path();
    const fs::path folder = parent.empty() ? fs::path(".") : parent;
    if (is_missing(folder)) fail(path, reason(ENOENT));
    remove_abandoned_temporaries(folder);
    Temporary temporary(folder, path);
    temporary.write(std::as_bytes(std::span(text)));
    if (exists) temporary.look_like(status);
    temporary.close();
    rename_onto(temporary.path(), target);
    temporary.release();
}

}  // namespace rakelight
