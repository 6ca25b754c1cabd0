#include "ray_scene.hpp"

#include <algorithm>
#include <cmath>
#include <cstring>
#include <limits>
#include <random>
#include <stdexcept>

namespace bench {
namespace {

constexpr int drawings = 64;
// Single precision misplaces a point some 20 mm away by 2e-6 mm; a slope of 1 in 50 is left by ten
// times that.
constexpr float lift_off_mm = 1e-3F;

RTCDevice device() {
    static const RTCDevice one = rtcNewDevice(nullptr);  // lives as long as the process
    if (one == nullptr) throw std::runtime_error("Embree gives no device");
    return one;
}

// Malley's method: a point of the unit disc, evenly, raised to the hemisphere.
glm::vec3 cosine_direction(double u, double v) {
    const double r = std::sqrt(u), turn = 2.0 * 3.14159265358979323846 * v;
    return {r * std::cos(turn), r * std::sin(turn), std::sqrt(1.0 - u)};
}

// Duff et al. 2017, "Building an Orthonormal Basis, Revisited", JCGT 6(1).
struct Basis {
    glm::vec3 right, up, normal;
    explicit Basis(glm::vec3 n) : normal(n) {
        const float sign = std::copysign(1.0F, n.z);
        const float a = -1.0F / (sign + n.z), b = n.x * n.y * a;
        right = {1.0F + sign * n.x * n.x * a, sign * b, -sign * n.x};
        up = {b, sign + n.y * n.y * a, -n.y};
    }
    glm::vec3 turn(glm::vec3 v) const { return v.x * right + v.y * up + v.z * normal; }
};

struct Shot {
    glm::vec3 from, along;
};

bool blocked(RTCScene scene, RTCIntersectContext& context, const Shot& shot, float reach_mm) {
    RTCRay ray{};
    ray.org_x = shot.from.x;
    ray.org_y = shot.from.y;
    ray.org_z = shot.from.z;
    ray.dir_x = shot.along.x;
    ray.dir_y = shot.along.y;
    ray.dir_z = shot.along.z;
    ray.tfar = reach_mm;
    ray.mask = 0xFFFFFFFFU;
    rtcOccluded1(scene, &context, &ray);
    return ray.tfar < 0.0F;
}

int blocked16(RTCScene scene, RTCIntersectContext& context, std::span<const Shot> shots,
              float reach_mm) {
    alignas(64) RTCRay16 rays{};
    alignas(64) int valid[16] = {};
    for (std::size_t i = 0; i < shots.size(); ++i) {
        valid[i] = -1;
        rays.org_x[i] = shots[i].from.x;
        rays.org_y[i] = shots[i].from.y;
        rays.org_z[i] = shots[i].from.z;
        rays.dir_x[i] = shots[i].along.x;
        rays.dir_y[i] = shots[i].along.y;
        rays.dir_z[i] = shots[i].along.z;
        rays.tfar[i] = reach_mm;
        rays.mask[i] = 0xFFFFFFFFU;
    }
    rtcOccluded16(valid, scene, &context, &rays);
    int count = 0;
    for (std::size_t i = 0; i < shots.size(); ++i) count += rays.tfar[i] < 0.0F;
    return count;
}

}  // namespace

RaySet::RaySet(int strata_u, int strata_v) : rays_(strata_u * strata_v) {
    std::mt19937 engine(20240531U);  // any number; fixed, so that a run can be repeated
    const auto draw = [&] { return static_cast<double>(engine()) / 4294967296.0; };
    for (int k = 0; k < drawings; ++k) {
        for (int i = 0; i < rays_; ++i) {
            const double u = (i % strata_u + draw()) / strata_u;
            const double v = (i / strata_u + draw()) / strata_v;
            directions_.push_back(cosine_direction(u, v));
        }
        // Any of them may fall to any place of the pixel.
        std::shuffle(directions_.end() - rays_, directions_.end(), engine);
    }
}

std::span<const glm::vec3> RaySet::of_pixel(std::uint32_t pixel) const {
    const std::uint32_t mixed = (pixel * 2654435761U) >> 26U;  // Knuth's multiplicative hash
    static_assert(drawings == 64);
    return {directions_.data() + static_cast<std::size_t>(mixed) * rays_,
            static_cast<std::size_t>(rays_)};
}

RayScene::RayScene(std::span<const glm::vec3> points, std::span<const Triangle> triangles)
    : scene_(rtcNewScene(device())) {
    const RTCGeometry geometry = rtcNewGeometry(device(), RTC_GEOMETRY_TYPE_TRIANGLE);
    void* corners = rtcSetNewGeometryBuffer(geometry, RTC_BUFFER_TYPE_VERTEX, 0, RTC_FORMAT_FLOAT3,
                                            sizeof(glm::vec3), points.size());
    void* indices = rtcSetNewGeometryBuffer(geometry, RTC_BUFFER_TYPE_INDEX, 0, RTC_FORMAT_UINT3,
                                            sizeof(Triangle), triangles.size());
    if (corners == nullptr || indices == nullptr) throw std::runtime_error("Embree has no memory");
    std::memcpy(corners, points.data(), points.size_bytes());
    std::memcpy(indices, triangles.data(), triangles.size_bytes());
    rtcCommitGeometry(geometry);
    rtcAttachGeometry(scene_, geometry);
    rtcReleaseGeometry(geometry);
    rtcCommitScene(scene_);
    if (rtcGetDeviceError(device()) != RTC_ERROR_NONE) {
        throw std::runtime_error("Embree does not take these triangles");
    }
}

RayScene::~RayScene() {
    rtcReleaseScene(scene_);
}

void RayScene::look_down(const std::array<float, 16>& x_mm, const std::array<float, 16>& y_mm,
                         float from_mm, Hits& hits) const {
    alignas(64) RTCRayHit16 query{};
    alignas(64) int valid[16];
    for (std::size_t i = 0; i < 16; ++i) {
        valid[i] = -1;
        query.ray.org_x[i] = x_mm[i];
        query.ray.org_y[i] = y_mm[i];
        query.ray.org_z[i] = from_mm;
        query.ray.dir_z[i] = -1.0F;
        query.ray.tfar[i] = std::numeric_limits<float>::infinity();
        query.ray.mask[i] = 0xFFFFFFFFU;
        query.hit.geomID[i] = RTC_INVALID_GEOMETRY_ID;
    }
    RTCIntersectContext context;
    rtcInitIntersectContext(&context);
    context.flags = RTC_INTERSECT_CONTEXT_FLAG_COHERENT;
    rtcIntersect16(valid, scene_, &context, &query);
    for (std::size_t i = 0; i < 16; ++i) {
        hits.hit[i] = query.hit.geomID[i] != RTC_INVALID_GEOMETRY_ID;
        hits.triangle[i] = query.hit.primID[i];
        hits.z_mm[i] = from_mm - query.ray.tfar[i];
        hits.u[i] = query.hit.u[i];
        hits.v[i] = query.hit.v[i];
    }
}

float RayScene::open_share(std::span<const Place> places, std::span<const glm::vec3> rays,
                           float reach_mm, Shots shots) const {
    RTCIntersectContext context;
    rtcInitIntersectContext(&context);
    const auto shot = [&](std::size_t i) {
        const Place& place = places[i % places.size()];
        return Shot{place.at + glm::vec3(0.0F, 0.0F, lift_off_mm),
                    Basis(place.normal).turn(rays[i])};
    };
    int closed = 0;
    if (shots == Shots::single) {
        for (std::size_t i = 0; i < rays.size(); ++i) {
            closed += blocked(scene_, context, shot(i), reach_mm);
        }
    } else {
        std::array<Shot, 16> packet;
        for (std::size_t first = 0; first < rays.size(); first += 16) {
            const std::size_t count = std::min<std::size_t>(16, rays.size() - first);
            for (std::size_t i = 0; i < count; ++i) packet[i] = shot(first + i);
            closed += blocked16(scene_, context, {packet.data(), count}, reach_mm);
        }
    }
    return 1.0F - static_cast<float>(closed) / static_cast<float>(rays.size());
}

}  // namespace bench
