#include "test_model_rig_files.hpp"

#include <cmath>
#include <cstring>

namespace model_test {
namespace {

template <class T>
std::string raw_of(const std::vector<T>& values) {
    std::string bytes(values.size() * sizeof(T), '\0');
    std::memcpy(bytes.data(), values.data(), bytes.size());
    return bytes;
}

std::string list_of(glm::vec3 v) {
    return "[" + std::to_string(v.x) + "," + std::to_string(v.y) + "," + std::to_string(v.z) + "]";
}

std::string base64_of(const std::string& bytes) {
    // as_gltf holds its buffer in base64: of three bytes, four digits.
    static constexpr const char* digits =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    std::string text;
    for (std::size_t i = 0; i + 2 < bytes.size(); i += 3) {
        const auto at = [&](std::size_t k) { return static_cast<unsigned char>(bytes[i + k]); };
        const unsigned v = at(0) << 16 | at(1) << 8 | at(2);
        for (int shift = 18; shift >= 0; shift -= 6) text += digits[(v >> shift) & 63];
    }
    return text;
}

}  // namespace

int GltfArrays::add_bytes(const std::string& bytes, int component, std::size_t count,
                          const std::string& type, const std::string& more) {
    const std::string comma = count_ == 0 ? "" : ",";
    views_ += comma + R"({"buffer":0,"byteOffset":)" + std::to_string(bytes_.size()) +
              R"(,"byteLength":)" + std::to_string(bytes.size()) + "}";
    accessors_ += comma + R"({"bufferView":)" + std::to_string(count_) + R"(,"componentType":)" +
                  std::to_string(component) + R"(,"count":)" + std::to_string(count) +
                  R"(,"type":")" + type + "\"" + more + "}";
    bytes_ += bytes;
    // Twelve is a multiple of every component's size, and of the three bytes of base64.
    bytes_.resize((bytes_.size() + 11) / 12 * 12);
    return count_++;
}

int GltfArrays::add(const std::vector<float>& numbers, const std::string& type) {
    const std::size_t each = type == "SCALAR" ? 1 : type == "VEC3" ? 3 : type == "VEC4" ? 4 : 16;
    return add_bytes(raw_of(numbers), 5126, numbers.size() / each, type);
}

int GltfArrays::add(const std::vector<glm::vec3>& vectors) {
    glm::vec3 low = vectors.front(), high = low;
    for (const glm::vec3& v : vectors) low = glm::min(low, v), high = glm::max(high, v);
    return add_bytes(raw_of(vectors), 5126, vectors.size(), "VEC3",
                     R"(,"min":)" + list_of(low) + R"(,"max":)" + list_of(high));
}

int GltfArrays::add_joints(const std::vector<std::array<std::uint8_t, 4>>& joints) {
    return add_bytes(raw_of(joints), 5121, joints.size(), "VEC4");
}

int GltfArrays::add_indices(const std::vector<std::array<std::uint32_t, 3>>& triangles) {
    return add_bytes(raw_of(triangles), 5125, 3 * triangles.size(), "SCALAR");
}

std::string GltfArrays::text() const {
    return R"("buffers":[{"byteLength":)" + std::to_string(bytes_.size()) +
           R"(,"uri":"data:application/octet-stream;base64,)" + base64_of(bytes_) +
           R"("}],"bufferViews":[)" + views_ + R"(],"accessors":[)" + accessors_ + "]";
}

std::string gltf_file(const GltfArrays& arrays, const std::string& members) {
    return R"({"asset":{"version":"2.0"},"scene":0,"scenes":[{"nodes":[0]}],)" + members + "," +
           arrays.text() + "}";
}

Tube tube(int rings, int around) {
    Tube made;
    for (int r = 0; r < rings; ++r)
        for (int k = 0; k < around; ++k) {
            const double angle = 2.0 * std::acos(-1.0) * k / around;
            const double share = static_cast<double>(r) / (rings - 1);
            const glm::dvec3 out(std::cos(angle), 0.0, -std::sin(angle));
            made.model.points.emplace_back(0.25 * out + glm::dvec3(0.0, 2.0 * share, 0.0));
            made.model.normals.emplace_back(out);
            made.upper.push_back(static_cast<float>(share));
        }
    const auto point = [&](int r, int k) {
        return static_cast<std::uint32_t>(r * around + k % around);
    };
    for (int r = 0; r + 1 < rings; ++r)
        for (int k = 0; k < around; ++k) {
            made.model.triangles.push_back({point(r, k), point(r, k + 1), point(r + 1, k + 1)});
            made.model.triangles.push_back({point(r, k), point(r + 1, k + 1), point(r + 1, k)});
        }
    return made;
}

std::string as_bent_gltf(const Tube& tube, const Bend& bend, GltfArrays arrays) {
    std::vector<float> weights;
    std::vector<std::array<std::uint8_t, 4>> joints;
    for (const float upper : tube.upper) {
        weights.insert(weights.end(),
                       {bend.first_weight * (1.0f - upper), bend.first_weight * upper, 0.0f, 0.0f});
        joints.push_back({0, 1, 0, 0});
    }
    const auto id = [](int accessor) { return std::to_string(accessor); };
    const std::string points = id(arrays.add(tube.model.points));
    const std::string normals = id(arrays.add(tube.model.normals));
    const std::string joint = id(arrays.add_joints(joints));
    const std::string weight = id(arrays.add(weights, "VEC4"));
    const std::string indices = id(arrays.add_indices(tube.model.triangles));
    // Column by column: the lower joint is bound at the origin, the upper one a unit above.
    const std::string bind = id(arrays.add({1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0,  0, 1,  //
                                            1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, -1, 0, 1},
                                           "MAT4"));
    return gltf_file(
        arrays, R"("nodes":[{"name":"figure","children":[1,2]},{"name":"tube","mesh":0,"skin":0)" +
                    bend.mesh_node + R"(},{"name":"lower","children":[3]},{)" + bend.name +
                    R"("translation":[0,1,0])" + bend.upper_node +
                    R"(}],"skins":[{"joints":[2,3],"inverseBindMatrices":)" + bind +
                    R"(}],"meshes":[{"primitives":[{"attributes":{"POSITION":)" + points +
                    R"(,"NORMAL":)" + normals + R"(,"JOINTS_0":)" + joint + R"(,"WEIGHTS_0":)" +
                    weight + R"(},"indices":)" + indices + "}]}]" + bend.more);
}

}  // namespace model_test
