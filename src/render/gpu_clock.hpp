#pragma once
// Private to render/: when the GPU reaches a place in its work, by its own clock. Marking costs
// neither a wait nor a flush; only reading does, and is done when the work has ended anyway.

#include <string>
#include <utility>
#include <vector>

#include "render/gl_objects.hpp"

namespace rakelight {

class GpuClock {
public:
    /// @param wanted  false: marks do nothing
    explicit GpuClock(bool wanted) : wanted_(wanted) {}

    /// Begins a span at what has been asked of the GPU so far.
    void start();

    /// Ends the span that began at the last start or end, and begins the next.
    /// @param name  of the span; a name used again adds up
    void end(const std::string& name);

    /// Seconds of each name in the order of first use. Waits for the GPU.
    std::vector<std::pair<std::string, double>> seconds() const;

private:
    struct Mark {
        std::string name;  ///< empty: a start
        Query query;
    };
    void mark(const std::string& name);

    bool wanted_;
    std::vector<Mark> marks_;
};

}  // namespace rakelight
