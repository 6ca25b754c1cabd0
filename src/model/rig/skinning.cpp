#include "model/rig/skinning.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <span>

#include "model/parallel.hpp"

namespace rakelight {
namespace {

glm::dvec3 to_double(const aiVector3D& v) {
    return {v.x, v.y, v.z};
}

struct Influence {
    std::uint32_t bone;
    float weight;
};

/// The bones of each vertex, sorted by vertices.
class Influences {
public:
    explicit Influences(const aiMesh& mesh) : first_(std::size_t{mesh.mNumVertices} + 1) {
        for_each(mesh, [&](std::uint32_t vertex, Influence) { ++first_[vertex + 1]; });
        for (std::size_t v = 1; v < first_.size(); ++v) first_[v] += first_[v - 1];
        list_.resize(first_.back());
        std::vector<std::uint32_t> next(first_.begin(), first_.end() - 1);
        for_each(mesh, [&](std::uint32_t vertex, Influence influence) {
            list_[next[vertex]++] = influence;
        });
    }

    std::span<const Influence> of(std::size_t vertex) const {
        return std::span(list_).subspan(first_[vertex], first_[vertex + 1] - first_[vertex]);
    }

private:
    template <class Visit>
    static void for_each(const aiMesh& mesh, const Visit& visit) {
        for (std::uint32_t b = 0; b < mesh.mNumBones; ++b) {
            const aiBone& bone = *mesh.mBones[b];
            for (unsigned i = 0; bone.mWeights != nullptr && i < bone.mNumWeights; ++i) {
                const aiVertexWeight& w = bone.mWeights[i];
                if (w.mVertexId < mesh.mNumVertices && std::isfinite(w.mWeight) && w.mWeight > 0.0f)
                    visit(w.mVertexId, Influence{b, w.mWeight});
            }
        }
    }

    std::vector<std::uint32_t> first_;
    std::vector<Influence> list_;
};

/// A shape that shows.
struct Showing {
    const aiVector3D* positions;  ///< null: as the mesh
    const aiVector3D* normals;
    double weight;
};

std::vector<Showing> showing(const Instance& instance, const MeshPose& pose) {
    std::vector<Showing> out;
    const std::size_t count = std::min(pose.weights.size(), instance.shapes.size());
    for (std::size_t i = 0; i < count; ++i) {
        const aiAnimMesh& shape = *instance.mesh->mAnimMeshes[i];
        if (pose.weights[i] == 0.0 || shape.mNumVertices != instance.mesh->mNumVertices) continue;
        out.push_back({shape.mVertices, shape.mNormals, pose.weights[i]});
    }
    return out;
}

/// What the vertices of a mesh are before anything moves them, and what moves each.
class Placer {
public:
    Placer(const Instance& instance, const MeshPose& pose)
        : mesh_(*instance.mesh),
          pose_(pose),
          shapes_(showing(instance, pose)),
          relative_(mesh_.mMethod == aiMorphingMethod_MORPH_RELATIVE),
          plain_(pose.by_bone.empty() && shapes_.empty() &&
                 pose.model_from_mesh == glm::dmat4(1.0)) {
        if (!pose.by_bone.empty()) influences_.emplace(mesh_);
    }

    bool is_plain() const { return plain_; }
    bool lacks_normals() const {
        return std::any_of(shapes_.begin(), shapes_.end(), [](const Showing& shape) {
            return shape.positions != nullptr && shape.normals == nullptr;
        });
    }

    glm::dvec3 position(std::size_t vertex) const {
        return shaped(mesh_.mVertices, &Showing::positions, vertex);
    }
    glm::dvec3 normal(std::size_t vertex) const {
        return shaped(mesh_.mNormals, &Showing::normals, vertex);
    }

    glm::dmat4 model_from_mesh(std::size_t vertex) const {
        if (pose_.by_bone.empty()) return pose_.model_from_mesh;
        double sum = 0.0;
        glm::dmat4 blend(0.0);
        for (const Influence& influence : influences_->of(vertex)) {
            sum += influence.weight;
            blend += double{influence.weight} * pose_.by_bone[influence.bone];
        }
        return sum > 0.0 ? blend / sum : pose_.model_from_mesh;
    }

private:
    // The importer hands over whole targets: what a target adds to the mesh is what it differs by.
    // Of a relative one the target itself is what it adds.
    glm::dvec3 shaped(const aiVector3D* base, const aiVector3D* Showing::*target,
                      std::size_t vertex) const {
        const glm::dvec3 from = to_double(base[vertex]);
        glm::dvec3 sum = from;
        for (const Showing& shape : shapes_) {
            if (shape.*target == nullptr) continue;
            const glm::dvec3 to = to_double((shape.*target)[vertex]);
            sum += shape.weight * (relative_ ? to : to - from);
        }
        return sum;
    }

    const aiMesh& mesh_;
    const MeshPose& pose_;
    std::vector<Showing> shapes_;
    bool relative_;
    bool plain_;
    std::optional<Influences> influences_;  ///< empty: no bone moves it
};

/// Turns normals: the inverse transposed up to a positive factor, that is the cofactors times the
/// determinant's sign. No matrix, however flat, divides by zero that way.
glm::dvec3 turned(const glm::dmat3& m, double determinant, const glm::dvec3& normal) {
    const glm::dmat3 cofactors(glm::cross(m[1], m[2]), glm::cross(m[2], m[0]),
                               glm::cross(m[0], m[1]));
    return glm::normalize((determinant < 0.0 ? -1.0 : 1.0) * (cofactors * normal));
}

void copy(const aiMesh& mesh, glm::vec3* positions, glm::vec3* normals) {
    for (std::size_t v = 0; v < mesh.mNumVertices; ++v) {
        positions[v] = glm::vec3(to_double(mesh.mVertices[v]));
        if (normals != nullptr) normals[v] = glm::vec3(to_double(mesh.mNormals[v]));
    }
}

}  // namespace

PlacedMesh place_mesh(const Instance& instance, const MeshPose& pose, glm::vec3* positions,
                      glm::vec3* normals) {
    const aiMesh& mesh = *instance.mesh;
    if (!mesh.HasNormals()) normals = nullptr;
    const Placer placer(instance, pose);
    PlacedMesh placed;
    placed.has_normals = mesh.HasNormals() && !placer.lacks_normals();
    if (placer.is_plain()) {
        copy(mesh, positions, normals);
        return placed;
    }
    constexpr std::size_t chunk = 4096;
    std::vector<std::size_t> mirrored(chunk_count(mesh.mNumVertices, chunk));
    parallel_chunks(mesh.mNumVertices, chunk, [&](std::size_t n, std::size_t v, std::size_t last) {
        for (; v < last; ++v) {
            const glm::dmat4 model_from_mesh = placer.model_from_mesh(v);
            const double determinant = glm::determinant(glm::dmat3(model_from_mesh));
            mirrored[n] += determinant < 0.0;
            positions[v] = glm::vec3(model_from_mesh * glm::dvec4(placer.position(v), 1.0));
            if (normals == nullptr) continue;
            normals[v] =
                glm::vec3(turned(glm::dmat3(model_from_mesh), determinant, placer.normal(v)));
        }
    });
    std::size_t count = 0;
    for (const std::size_t n : mirrored) count += n;
    placed.mirrored = 2 * count > mesh.mNumVertices;
    return placed;
}

}  // namespace rakelight
