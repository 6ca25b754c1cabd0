#pragma once
// Keys over time, and what lies between them. The formulas are those of the glTF 2.0 specification,
// appendix C; other formats are evaluated alike. Private to model/.

#include <algorithm>
#include <vector>

#include <glm/glm.hpp>
#include <glm/gtc/quaternion.hpp>

namespace rakelight {

enum class Between {
    step,   ///< the earlier key's value (C.2)
    line,   ///< along a line; rotations along the shorter great arc (C.3, C.4)
    curve,  ///< cubic Hermite by the keys' tangents (C.5)
};

template <class T>
struct Key {
    double time_s;
    T value;
    T in{}, out{};  ///< tangents per second, for Between::curve alone
};

template <class T>
struct Track {
    std::vector<Key<T>> keys;  ///< by time
    Between between = Between::line;
};

/// Finite, and for a rotation not zero: what a key must be to count.
bool is_usable(double value);
bool is_usable(const glm::dvec3& value);
bool is_usable(const glm::dquat& value);

/// @param t  0: a, 1: b
double between(double a, double b, double t);
glm::dvec3 between(const glm::dvec3& a, const glm::dvec3& b, double t);
glm::dquat between(const glm::dquat& a, const glm::dquat& b, double t);

inline double settled(double value) {
    return value;
}
inline glm::dvec3 settled(const glm::dvec3& value) {
    return value;
}
glm::dquat settled(const glm::dquat& value);  ///< of length 1

/// Drops keys that are not usable and sorts the others by time; of one time the first counts.
template <class T>
void tidy(Track<T>& track) {
    std::erase_if(track.keys, [](const Key<T>& key) {
        return !is_usable(key.time_s) || !is_usable(key.value);
    });
    const auto earlier = [](const Key<T>& a, const Key<T>& b) { return a.time_s < b.time_s; };
    std::stable_sort(track.keys.begin(), track.keys.end(), earlier);
    const auto same = [](const Key<T>& a, const Key<T>& b) { return a.time_s == b.time_s; };
    track.keys.erase(std::unique(track.keys.begin(), track.keys.end(), same), track.keys.end());
}

/// Cubic Hermite: glTF 2.0 specification, C.5.
template <class T>
T on_curve(const Key<T>& a, const Key<T>& b, double t) {
    const double length_s = b.time_s - a.time_s, t2 = t * t, t3 = t2 * t;
    return (2.0 * t3 - 3.0 * t2 + 1.0) * a.value + (length_s * (t3 - 2.0 * t2 + t)) * a.out +
           (-2.0 * t3 + 3.0 * t2) * b.value + (length_s * (t3 - t2)) * b.in;
}

/// The value at a time; before the first key the first one's, after the last the last one's.
/// @param track  tidy, with one key at least
template <class T>
T value_at(const Track<T>& track, double time_s) {
    const auto later =
        std::upper_bound(track.keys.begin(), track.keys.end(), time_s,
                         [](double time, const Key<T>& key) { return time < key.time_s; });
    if (later == track.keys.begin()) return settled(later->value);
    const Key<T>& a = *(later - 1);
    if (later == track.keys.end() || track.between == Between::step) return settled(a.value);
    const double t = (time_s - a.time_s) / (later->time_s - a.time_s);
    if (track.between == Between::curve) {
        const T value = on_curve(a, *later, t);
        if (is_usable(value)) return settled(value);
    }
    return settled(between(a.value, later->value, t));
}

}  // namespace rakelight
