#include "tracer.hpp"

#include <embree3/rtcore.h>

#include <cstring>
#include <limits>
#include <stdexcept>

namespace reference {
namespace {

struct Device {
    RTCDevice handle = rtcNewDevice(nullptr);
    Device() {
        if (handle == nullptr) throw std::runtime_error("Embree gives no device");
    }
    Device(const Device&) = delete;
    Device& operator=(const Device&) = delete;
    ~Device() { rtcReleaseDevice(handle); }
};

RTCDevice device() {
    static const Device one;
    return one.handle;
}

void set_ray(RTCRay& ray, glm::dvec3 from, glm::dvec3 along, double far) {
    ray.org_x = static_cast<float>(from.x);
    ray.org_y = static_cast<float>(from.y);
    ray.org_z = static_cast<float>(from.z);
    ray.dir_x = static_cast<float>(along.x);
    ray.dir_y = static_cast<float>(along.y);
    ray.dir_z = static_cast<float>(along.z);
    ray.tnear = 0.0F;
    ray.tfar = static_cast<float>(far);
    ray.time = 0.0F;
    ray.mask = 0xFFFFFFFFU;
    ray.id = 0;
    ray.flags = 0;
}

RTCIntersectContext plain_context() {
    RTCIntersectContext context;
    rtcInitIntersectContext(&context);
    return context;
}

}  // namespace

struct Tracer::Parts {
    RTCScene scene = rtcNewScene(device());
    Parts() = default;
    Parts(const Parts&) = delete;
    Parts& operator=(const Parts&) = delete;
    ~Parts() { rtcReleaseScene(scene); }
};

Tracer::Tracer(const std::vector<glm::dvec3>& points, const std::vector<Triangle>& triangles)
    : parts_(std::make_unique<Parts>()) {
    // Robust: no ray slips through between two triangles that share an edge.
    rtcSetSceneFlags(parts_->scene, RTC_SCENE_FLAG_ROBUST | RTC_SCENE_FLAG_CONTEXT_FILTER_FUNCTION);
    // Large sets are built once and shot at little.
    if (triangles.size() > 1000000) rtcSetSceneBuildQuality(parts_->scene, RTC_BUILD_QUALITY_LOW);
    const RTCGeometry geometry = rtcNewGeometry(device(), RTC_GEOMETRY_TYPE_TRIANGLE);
    auto* corners = static_cast<float*>(rtcSetNewGeometryBuffer(
        geometry, RTC_BUFFER_TYPE_VERTEX, 0, RTC_FORMAT_FLOAT3, 3 * sizeof(float), points.size()));
    void* indices = rtcSetNewGeometryBuffer(geometry, RTC_BUFFER_TYPE_INDEX, 0, RTC_FORMAT_UINT3,
                                            sizeof(Triangle), triangles.size());
    if (corners == nullptr || indices == nullptr) throw std::runtime_error("Embree has no memory");
    for (const auto& p : points) {
        for (int c = 0; c < 3; ++c) *corners++ = static_cast<float>(p[c]);
    }
    std::memcpy(indices, triangles.data(), triangles.size() * sizeof(Triangle));
    rtcCommitGeometry(geometry);
    rtcAttachGeometry(parts_->scene, geometry);
    rtcReleaseGeometry(geometry);
    rtcCommitScene(parts_->scene);
    if (rtcGetDeviceError(device()) != RTC_ERROR_NONE) {
        throw std::runtime_error("Embree does not take these triangles");
    }
}

Tracer::~Tracer() = default;

std::optional<std::uint32_t> Tracer::first(glm::dvec3 from, glm::dvec3 along) const {
    RTCRayHit query;
    set_ray(query.ray, from, along, std::numeric_limits<float>::infinity());
    query.hit.geomID = RTC_INVALID_GEOMETRY_ID;
    query.hit.instID[0] = RTC_INVALID_GEOMETRY_ID;
    RTCIntersectContext context = plain_context();
    rtcIntersect1(parts_->scene, &context, &query);
    if (query.hit.geomID == RTC_INVALID_GEOMETRY_ID) return std::nullopt;
    return query.hit.primID;
}

std::vector<std::uint32_t> Tracer::all(glm::dvec3 from, glm::dvec3 along) const {
    struct Collector {
        RTCIntersectContext context;  // first, so that the filter finds the rest behind it
        std::vector<std::uint32_t> met;
    } collector{plain_context(), {}};
    collector.context.filter = [](const RTCFilterFunctionNArguments* arguments) {
        auto* to = reinterpret_cast<Collector*>(arguments->context);
        const auto* hit = reinterpret_cast<const RTCHit*>(arguments->hit);
        to->met.push_back(hit->primID);
        arguments->valid[0] = 0;  // go on
    };
    RTCRayHit query;
    set_ray(query.ray, from, along, std::numeric_limits<float>::infinity());
    query.hit.geomID = RTC_INVALID_GEOMETRY_ID;
    query.hit.instID[0] = RTC_INVALID_GEOMETRY_ID;
    rtcIntersect1(parts_->scene, &collector.context, &query);
    return collector.met;
}

bool Tracer::blocked(glm::dvec3 from, glm::dvec3 direction, double reach) const {
    RTCRay ray;
    set_ray(ray, from, direction, reach);
    RTCIntersectContext context = plain_context();
    rtcOccluded1(parts_->scene, &context, &ray);
    return ray.tfar < 0.0F;  // minus infinity: something was met
}

}  // namespace reference
