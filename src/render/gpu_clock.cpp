#include "render/gpu_clock.hpp"

#include <algorithm>

namespace rakelight {

void GpuClock::mark(const std::string& name) {
    if (!wanted_) return;
    marks_.push_back({name, {}});
    glQueryCounter(marks_.back().query.name(), GL_TIMESTAMP);
}

void GpuClock::start() {
    mark({});
}

void GpuClock::end(const std::string& name) {
    mark(name);
}

std::vector<std::pair<std::string, double>> GpuClock::seconds() const {
    std::vector<std::pair<std::string, double>> spans;
    GLuint64 before = 0;
    for (const Mark& mark : marks_) {
        GLuint64 now = 0;  // nanoseconds
        glGetQueryObjectui64v(mark.query.name(), GL_QUERY_RESULT, &now);
        if (!mark.name.empty()) {
            auto span = std::find_if(spans.begin(), spans.end(),
                                     [&](const auto& s) { return s.first == mark.name; });
            if (span == spans.end()) span = spans.insert(spans.end(), {mark.name, 0.0});
            span->second += 1e-9 * static_cast<double>(now - before);
        }
        before = now;
    }
    return spans;
}

}  // namespace rakelight
