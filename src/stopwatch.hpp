#pragma once

#include <chrono>
#include <utility>

namespace rakelight {

/// Seconds since it was made, or since the latest lap.
class Stopwatch {
public:
    double seconds() const { return std::chrono::duration<double>(Clock::now() - last_).count(); }
    double lap() {
        const auto now = Clock::now();
        return std::chrono::duration<double>(now - std::exchange(last_, now)).count();
    }

private:
    using Clock = std::chrono::steady_clock;
    Clock::time_point last_ = Clock::now();
};

}  // namespace rakelight
