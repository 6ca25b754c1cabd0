#include "render/gl_objects.hpp"

#include "error.hpp"

namespace rakelight {
namespace {

struct PixelFormat {
    GLenum format;
    GLenum type;
};

PixelFormat upload_format(GLenum internal_format) {
    switch (internal_format) {
        case GL_DEPTH_COMPONENT32F:
            return {GL_DEPTH_COMPONENT, GL_FLOAT};
        case GL_R32UI:
            return {GL_RED_INTEGER, GL_UNSIGNED_INT};
        default:
            return {GL_RGBA, GL_FLOAT};
    }
}

std::string with_defines(const char* source, const std::string& defines) {
    std::string text = source;
    const auto end_of_version = text.find('\n') + 1;
    return text.insert(end_of_version, defines);
}

GLuint compile(GLenum stage, const std::string& name, const std::string& source) {
    const GLuint shader = glCreateShader(stage);
    const char* text = source.c_str();
    glShaderSource(shader, 1, &text, nullptr);
    glCompileShader(shader);
    GLint good = GL_FALSE;
    glGetShaderiv(shader, GL_COMPILE_STATUS, &good);
    if (good == GL_TRUE) return shader;
    char log[4096] = "";
    glGetShaderInfoLog(shader, sizeof log, nullptr, log);
    glDeleteShader(shader);
    throw Error(ExitCode::no_graphics, "the driver refuses shader " + name + ": " + log);
}

constexpr GLenum context_lost = 0x0507;  // KHR_robustness; the headers of 4.1 lack it

std::string gl_error_name(GLenum code) {
    switch (code) {
        case GL_OUT_OF_MEMORY:
            return "out of memory";
        case GL_INVALID_VALUE:
            return "invalid value";
        case GL_INVALID_OPERATION:
            return "invalid operation";
        case GL_INVALID_ENUM:
            return "invalid enum";
        case GL_INVALID_FRAMEBUFFER_OPERATION:
            return "invalid framebuffer operation";
        default:
            return "error " + std::to_string(code);
    }
}

}  // namespace

Texture::Texture(GLenum internal_format, int width, int height) : width_(width), height_(height) {
    glBindTexture(GL_TEXTURE_2D, name());
    const auto [format, type] = upload_format(internal_format);
    glTexImage2D(GL_TEXTURE_2D, 0, static_cast<GLint>(internal_format), width, height, 0, format,
                 type, nullptr);
    glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_MIN_FILTER, GL_NEAREST);
    glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_MAG_FILTER, GL_NEAREST);
    glTexParameteri(GL_TEXTURE_2D, GL_TEXTURE_MAX_LEVEL, 0);
    check_gl("making a texture of " + std::to_string(width) + " x " + std::to_string(height));
}

void Texture::bind(int unit) const {
    glActiveTexture(GL_TEXTURE0 + static_cast<GLenum>(unit));
    glBindTexture(GL_TEXTURE_2D, name());
}

void Texture::bind_image(GLuint unit, GLenum format) const {
    glBindImageTexture(unit, name(), 0, GL_FALSE, 0, GL_WRITE_ONLY, format);
}

Framebuffer::Framebuffer(const std::vector<Colour>& colours, const Texture* depth) {
    bind();
    std::vector<GLenum> targets;
    for (const auto& colour : colours) {
        const GLenum at = GL_COLOR_ATTACHMENT0 + static_cast<GLenum>(targets.size());
        glFramebufferTexture2D(GL_FRAMEBUFFER, at, GL_TEXTURE_2D, colour.texture->name(), 0);
        targets.push_back(at);
    }
    if (depth != nullptr) {
        glFramebufferTexture2D(GL_FRAMEBUFFER, GL_DEPTH_ATTACHMENT, GL_TEXTURE_2D, depth->name(),
                               0);
    }
    glDrawBuffers(static_cast<GLsizei>(targets.size()), targets.data());
    const GLenum status = glCheckFramebufferStatus(GL_FRAMEBUFFER);
    if (status != GL_FRAMEBUFFER_COMPLETE) {
        throw Error(
            ExitCode::no_graphics,
            "the driver cannot draw into the formats that passes need (framebuffer status " +
                std::to_string(status) + ")");
    }
}

void Framebuffer::bind() const {
    glBindFramebuffer(GL_FRAMEBUFFER, object_.name());
}

void Framebuffer::read_into_buffer(int attachment, GLenum format, int width, int height) const {
    bind();
    glReadBuffer(GL_COLOR_ATTACHMENT0 + static_cast<GLenum>(attachment));
    glPixelStorei(GL_PACK_ALIGNMENT, 4);
    glReadPixels(0, 0, width, height, format, GL_FLOAT, nullptr);
    check_gl("reading a picture back");
}

Program::Program(const std::string& name, const char* vertex, const char* fragment,
                 const std::string& defines) {
    const GLuint first =
        compile(GL_VERTEX_SHADER, name + " (vertex)", with_defines(vertex, defines));
    const GLuint second =
        compile(GL_FRAGMENT_SHADER, name + " (fragment)", with_defines(fragment, defines));
    link(name, {first, second});
}

Program::Program(const std::string& name, const char* compute, const std::string& defines) {
    link(name, {compile(GL_COMPUTE_SHADER, name + " (compute)", with_defines(compute, defines))});
}

void Program::link(const std::string& name, const std::vector<GLuint>& shaders) {
    program_ = glCreateProgram();
    for (const GLuint shader : shaders) glAttachShader(program_, shader);
    glLinkProgram(program_);
    for (const GLuint shader : shaders) glDeleteShader(shader);
    GLint good = GL_FALSE;
    glGetProgramiv(program_, GL_LINK_STATUS, &good);
    if (good == GL_TRUE) return;
    char log[4096] = "";
    glGetProgramInfoLog(program_, sizeof log, nullptr, log);
    glDeleteProgram(program_);
    throw Error(ExitCode::no_graphics, "the driver refuses program " + name + ": " + log);
}

Program::~Program() {
    glDeleteProgram(program_);
}

void Program::bind_block(const char* block, GLuint binding) const {
    glUniformBlockBinding(program_, glGetUniformBlockIndex(program_, block), binding);
}

bool has_compute() {
    return GLAD_GL_VERSION_4_3 != 0;
}

std::int64_t max_storage_bytes() {
    GLint64 bytes = 0;
    glGetInteger64v(GL_MAX_SHADER_STORAGE_BLOCK_SIZE, &bytes);
    return bytes;
}

void dispatch_over(int width, int height, int group_width, int group_height) {
    glDispatchCompute(static_cast<GLuint>((width + group_width - 1) / group_width),
                      static_cast<GLuint>((height + group_height - 1) / group_height), 1);
    finish_stores();
}

void Storage::reserve(GLuint binding, std::size_t bytes) {
    if (bytes > capacity_) {
        glBindBuffer(GL_SHADER_STORAGE_BUFFER, buffer_.name());
        glBufferData(GL_SHADER_STORAGE_BUFFER, static_cast<GLsizeiptr>(bytes), nullptr,
                     GL_DYNAMIC_COPY);
        check_gl("making room for " + std::to_string(bytes >> 20) + " MiB");
        capacity_ = bytes;
    }
    bind(binding);
}

void Storage::fill(GLuint binding, std::size_t bytes, const void* contents) {
    reserve(binding, bytes);
    glBindBuffer(GL_SHADER_STORAGE_BUFFER, buffer_.name());
    glBufferSubData(GL_SHADER_STORAGE_BUFFER, 0, static_cast<GLsizeiptr>(bytes), contents);
}

void Storage::bind(GLuint binding) const {
    glBindBufferBase(GL_SHADER_STORAGE_BUFFER, binding, buffer_.name());
}

void finish_stores() {
    glMemoryBarrier(GL_SHADER_STORAGE_BARRIER_BIT | GL_SHADER_IMAGE_ACCESS_BARRIER_BIT |
                    GL_TEXTURE_FETCH_BARRIER_BIT | GL_BUFFER_UPDATE_BARRIER_BIT |
                    GL_FRAMEBUFFER_BARRIER_BIT | GL_PIXEL_BUFFER_BARRIER_BIT);
}

void check_gl(const std::string& after) {
    const GLenum code = glGetError();
    if (code == GL_NO_ERROR) return;
    if (code == context_lost) {
        throw Error(ExitCode::no_graphics,
                    "the graphics context was lost (noticed after " + after +
                        "): the driver was reset or its GPU went away; render again, or with "
                        "--context processor");
    }
    throw Error(ExitCode::no_graphics, "the graphics driver reports " + gl_error_name(code) +
                                           " after " + after +
                                           "; fewer px_per_mm or samples need less memory");
}

}  // namespace rakelight
