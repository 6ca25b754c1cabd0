#pragma once
// Values that wait until the whole picture is known: in memory, or, when there are many, in a file
// that has no name, so that it is gone with the process however that ends.

#include <cstddef>
#include <filesystem>
#include <functional>
#include <span>
#include <vector>

namespace rakelight {

class KeptValues {
public:
    /// @param folder     where the file goes, if it comes to that
    /// @param in_memory  so many values stay in memory
    KeptValues(std::filesystem::path folder, std::size_t in_memory);
    ~KeptValues();
    KeptValues(const KeptValues&) = delete;
    KeptValues& operator=(const KeptValues&) = delete;

    /// Throws Error(not_written) when the disk takes no more.
    void append(std::span<const float> values);

    /// Hands all of them over in order, `at_a_time` and at last what is left. Throws
    /// Error(not_written) when the file cannot be read back.
    void read(std::size_t at_a_time, const std::function<void(std::span<const float>)>& take);

private:
    void write_out(std::span<const float> values);

    std::filesystem::path folder_;
    std::size_t in_memory_;
    std::vector<float> values_;
    std::size_t written_ = 0;
    int file_ = -1;
};

}  // namespace rakelight
