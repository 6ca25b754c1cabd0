#include "bare_raster.hpp"

#include <glad/gl.h>

#include <array>
#include <chrono>
#include <stdexcept>

#include "render/context.hpp"

namespace bench {
namespace {

constexpr int per_axis = 4;

const char* const mesh_vertex = R"(#version 410 core
layout(location = 0) in vec3 at_model;
layout(location = 1) in vec2 octahedral;
uniform mat4 clip_from_model;
uniform mat4 view_from_model;
uniform mat3 turn;
out float z_mm;
out vec3 normal;
void main() {
    vec3 n = vec3(octahedral, 1.0 - abs(octahedral.x) - abs(octahedral.y));
    if (n.z < 0.0) n.xy = (1.0 - abs(n.yx)) * mix(vec2(-1.0), vec2(1.0), greaterThanEqual(n.xy, vec2(0.0)));
    normal = turn * n;
    z_mm = (view_from_model * vec4(at_model, 1.0)).z;
    gl_Position = clip_from_model * vec4(at_model, 1.0);
})";

const char* const mesh_fragment = R"(#version 410 core
in float z_mm;
in vec3 normal;
layout(location = 0) out float z_out;
layout(location = 1) out vec4 normal_out;
void main() {
    z_out = z_mm;
    normal_out = vec4(normalize(normal), 1.0);
})";

const char* const resolve_vertex = R"(#version 410 core
void main() {
    gl_Position = vec4(gl_VertexID == 1 ? 3.0 : -1.0, gl_VertexID == 2 ? 3.0 : -1.0, 0.0, 1.0);
})";

const char* const resolve_fragment = R"(#version 410 core
uniform sampler2D z_map;
uniform sampler2D normal_map;
layout(location = 0) out float z_out;
layout(location = 1) out vec4 normal_out;
void main() {
    ivec2 first = 4 * ivec2(gl_FragCoord.xy);
    float z = 0.0;
    vec4 normal = vec4(0.0);
    for (int i = 0; i < 16; ++i) {
        ivec2 at = first + ivec2(i & 3, i >> 2);
        vec4 n = texelFetch(normal_map, at, 0);
        z += n.w * texelFetch(z_map, at, 0).r;
        normal += n;
    }
    z_out = normal.w > 0.0 ? z / normal.w : 0.0;
    normal_out = vec4(normal.w > 0.0 ? normalize(normal.xyz) : vec3(0.0, 0.0, 1.0), normal.w / 16.0);
})";

GLuint shader(GLenum kind, const char* text) {
    const GLuint name = glCreateShader(kind);
    glShaderSource(name, 1, &text, nullptr);
    glCompileShader(name);
    GLint good = 0;
    glGetShaderiv(name, GL_COMPILE_STATUS, &good);
    if (good == 0) throw std::runtime_error("the bare raster's shader does not compile");
    return name;
}

GLuint program(const char* vertex, const char* fragment) {
    const GLuint name = glCreateProgram();
    glAttachShader(name, shader(GL_VERTEX_SHADER, vertex));
    glAttachShader(name, shader(GL_FRAGMENT_SHADER, fragment));
    glLinkProgram(name);
    GLint good = 0;
    glGetProgramiv(name, GL_LINK_STATUS, &good);
    if (good == 0) throw std::runtime_error("the bare raster's program does not link");
    return name;
}

GLuint texture(GLint format, int width, int height) {
    GLuint name = 0;
    glGenTextures(1, &name);
    glBindTexture(GL_TEXTURE_2D, name);
    const bool depth = format == GL_DEPTH_COMPONENT32F;
    glTexImage2D(GL_TEXTURE_2D, 0, format, width, height, 0, depth ? GL_DEPTH_COMPONENT : GL_RGBA,
                 GL_FLOAT, nullptr);
    glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_MIN_FILTER, GL_NEAREST);
    glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_MAG_FILTER, GL_NEAREST);
    return name;
}

/// z and normal, and a depth buffer where one is wanted. Nothing is freed: the process ends.
struct Target {
    int width, height;
    GLuint z, normal, frame = 0;

    Target(int w, int h, GLint normal_format, bool depth)
        : width(w), height(h), z(texture(GL_R32F, w, h)), normal(texture(normal_format, w, h)) {
        glGenFramebuffers(1, &frame);
        glBindFramebuffer(GL_FRAMEBUFFER, frame);
        glFramebufferTexture(GL_FRAMEBUFFER, GL_COLOR_ATTACHMENT0, z, 0);
        glFramebufferTexture(GL_FRAMEBUFFER, GL_COLOR_ATTACHMENT1, normal, 0);
        if (depth) {
            glFramebufferTexture(GL_FRAMEBUFFER, GL_DEPTH_ATTACHMENT,
                                 texture(GL_DEPTH_COMPONENT32F, w, h), 0);
        }
        const GLenum both[] = {GL_COLOR_ATTACHMENT0, GL_COLOR_ATTACHMENT1};
        glDrawBuffers(2, both);
        if (glCheckFramebufferStatus(GL_FRAMEBUFFER) != GL_FRAMEBUFFER_COMPLETE) {
            throw std::runtime_error("the driver refuses the bare raster's target");
        }
    }
    void use() const {
        glBindFramebuffer(GL_FRAMEBUFFER, frame);
        glViewport(0, 0, width, height);
    }
};

void upload(const rakelight::Mesh& mesh) {
    GLuint names[2], array = 0;
    glGenVertexArrays(1, &array);
    glBindVertexArray(array);
    glGenBuffers(2, names);
    glBindBuffer(GL_ARRAY_BUFFER, names[0]);
    glBufferData(GL_ARRAY_BUFFER, static_cast<GLsizeiptr>(mesh.vertices().size_bytes()),
                 mesh.vertices().data(), GL_STATIC_DRAW);
    glBindBuffer(GL_ELEMENT_ARRAY_BUFFER, names[1]);
    glBufferData(GL_ELEMENT_ARRAY_BUFFER, static_cast<GLsizeiptr>(mesh.indices().size_bytes()),
                 mesh.indices().data(), GL_STATIC_DRAW);
    glVertexAttribPointer(0, 3, GL_FLOAT, GL_FALSE, sizeof(rakelight::Vertex), nullptr);
    glVertexAttribPointer(1, 2, GL_SHORT, GL_TRUE, sizeof(rakelight::Vertex),
                          reinterpret_cast<const void*>(offsetof(rakelight::Vertex, normal)));
    glEnableVertexAttribArray(0);
    glEnableVertexAttribArray(1);
}

// Parallel projection; rows come out from the bottom, which costs nothing either way.
void set_camera(GLuint draw, const rakelight::PreparedScene& scene) {
    const rakelight::Camera& camera = scene.framing.camera;
    const rakelight::ImageGrid& grid = scene.framing.grid;
    const glm::dmat3 scaled = camera.mm_per_unit * camera.view_from_model;
    glm::dmat4 view(scaled);
    view[3] = glm::dvec4(-(scaled * camera.centre_model), 1.0);
    const double width_mm = grid.width / grid.px_per_mm, height_mm = grid.height / grid.px_per_mm;
    const double deep_mm = 2.0 * camera.mm_per_unit * glm::length(scene.mesh.bounds().size());
    glm::dmat4 clip(1.0);
    clip[0][0] = 2.0 / width_mm;
    clip[1][1] = 2.0 / height_mm;
    clip[2][2] = -1.0 / deep_mm;
    clip[3][0] = 2.0 * (camera.picture_mm.x - grid.left_mm) / width_mm - 1.0;
    clip[3][1] = 2.0 * (camera.picture_mm.y - grid.top_mm) / height_mm + 1.0;
    const glm::mat4 view_f(view), clip_f(clip * view);
    const glm::mat3 turn(camera.view_from_model);
    glUseProgram(draw);
    glUniformMatrix4fv(glGetUniformLocation(draw, "view_from_model"), 1, GL_FALSE, &view_f[0][0]);
    glUniformMatrix4fv(glGetUniformLocation(draw, "clip_from_model"), 1, GL_FALSE, &clip_f[0][0]);
    glUniformMatrix3fv(glGetUniformLocation(draw, "turn"), 1, GL_FALSE, &turn[0][0]);
}

class BareRaster {
public:
    explicit BareRaster(const rakelight::PreparedScene& scene)
        : fine_(per_axis * scene.framing.grid.width, per_axis * scene.framing.grid.height,
                GL_RGBA16F, true),
          picture_(scene.framing.grid.width, scene.framing.grid.height, GL_RGBA32F, false),
          draw_(program(mesh_vertex, mesh_fragment)),
          resolve_(program(resolve_vertex, resolve_fragment)),
          indices_(static_cast<GLsizei>(scene.mesh.indices().size())),
          z_(static_cast<std::size_t>(picture_.width) * picture_.height),
          normal_(4 * z_.size()) {
        upload(scene.mesh);
        set_camera(draw_, scene);
        glUseProgram(resolve_);
        glUniform1i(glGetUniformLocation(resolve_, "z_map"), 0);
        glUniform1i(glGetUniformLocation(resolve_, "normal_map"), 1);
    }

    /// With the processor time of all threads, the driver's too.
    Json run() {
        Json steps;
        const Cost cost = cost_here([&] { steps = timed_steps(); });
        steps["all_s"] = cost.wall_s;
        steps["cpu_s"] = cost.cpu_s;
        return steps;
    }

    /// Of the last run: how much of the picture shows the mesh.
    double covered_share() const {
        double sum = 0.0;
        for (std::size_t i = 3; i < normal_.size(); i += 4) sum += normal_[i];
        return sum / static_cast<double>(z_.size());
    }

private:
    using Clock = std::chrono::steady_clock;

    Json timed_steps() {
        const auto start = Clock::now();
        draw();
        glFinish();
        const auto drawn = Clock::now();
        resolve();
        glFinish();
        const auto resolved = Clock::now();
        read_back();
        const auto end = Clock::now();
        const auto seconds = [](auto a, auto b) {
            return std::chrono::duration<double>(b - a).count();
        };
        return {{"draw_s", seconds(start, drawn)},
                {"resolve_s", seconds(drawn, resolved)},
                {"read_s", seconds(resolved, end)}};
    }

    void draw() {
        fine_.use();
        glEnable(GL_DEPTH_TEST);
        glDisable(GL_CULL_FACE);
        glClearColor(0.0F, 0.0F, 0.0F, 0.0F);
        glClear(GL_COLOR_BUFFER_BIT | GL_DEPTH_BUFFER_BIT);
        glUseProgram(draw_);
        glDrawElements(GL_TRIANGLES, indices_, GL_UNSIGNED_INT, nullptr);
    }
    void resolve() {
        picture_.use();
        glDisable(GL_DEPTH_TEST);
        glUseProgram(resolve_);
        glActiveTexture(GL_TEXTURE0);
        glBindTexture(GL_TEXTURE_2D, fine_.z);
        glActiveTexture(GL_TEXTURE1);
        glBindTexture(GL_TEXTURE_2D, fine_.normal);
        glDrawArrays(GL_TRIANGLES, 0, 3);
    }
    void read_back() {
        glReadBuffer(GL_COLOR_ATTACHMENT0);
        glReadPixels(0, 0, picture_.width, picture_.height, GL_RED, GL_FLOAT, z_.data());
        glReadBuffer(GL_COLOR_ATTACHMENT1);
        glReadPixels(0, 0, picture_.width, picture_.height, GL_RGBA, GL_FLOAT, normal_.data());
    }

    Target fine_, picture_;
    GLuint draw_, resolve_;
    GLsizei indices_;
    std::vector<float> z_, normal_;
};

}  // namespace

Json bare_gl_raster(const rakelight::PreparedScene& scene, int runs) {
    const auto context = rakelight::open_context(rakelight::ContextChoice::egl);
    const auto& grid = scene.framing.grid;
    const auto& facts = context->facts();
    const int limit = std::min(facts.max_texture_px, facts.max_viewport_px);
    if (per_axis * std::max(grid.width, grid.height) > limit) {
        throw std::runtime_error("the driver's textures end at " + std::to_string(limit) + " px");
    }
    BareRaster raster(scene);
    raster.run();
    Json all = Json::array();
    for (int i = 0; i < runs; ++i) all.push_back(raster.run());
    if (glGetError() != GL_NO_ERROR) throw std::runtime_error("OpenGL says the raster is wrong");
    return {{"driver", facts.renderer + ", OpenGL " + facts.gl_version},
            {"covered_share", raster.covered_share()},
            {"runs", all}};
}

}  // namespace bench
