#pragma once
// Private to render/: OpenGL objects that free themselves. All need the context that made them to
// be current. Failures are Error(no_graphics) with the driver's own words.

#include <glad/gl.h>

#include <string>
#include <utility>
#include <vector>

namespace rakelight {

/// Owns one OpenGL name; Traits say how it is made and deleted.
template <typename Traits>
class GlObject {
public:
    GlObject() { Traits::make(&name_); }
    GlObject(GlObject&& other) noexcept : name_(std::exchange(other.name_, 0)) {}
    GlObject& operator=(GlObject&& other) noexcept {
        std::swap(name_, other.name_);
        return *this;
    }
    ~GlObject() {
        if (name_ != 0) Traits::free(&name_);
    }
    GLuint name() const { return name_; }

private:
    GLuint name_ = 0;
};

struct TextureTraits {
    static void make(GLuint* name) { glGenTextures(1, name); }
    static void free(const GLuint* name) { glDeleteTextures(1, name); }
};
struct BufferTraits {
    static void make(GLuint* name) { glGenBuffers(1, name); }
    static void free(const GLuint* name) { glDeleteBuffers(1, name); }
};
struct VertexArrayTraits {
    static void make(GLuint* name) { glGenVertexArrays(1, name); }
    static void free(const GLuint* name) { glDeleteVertexArrays(1, name); }
};
struct FramebufferTraits {
    static void make(GLuint* name) { glGenFramebuffers(1, name); }
    static void free(const GLuint* name) { glDeleteFramebuffers(1, name); }
};

using Buffer = GlObject<BufferTraits>;
using VertexArray = GlObject<VertexArrayTraits>;

/// A 2D texture without mipmaps, nearest sampling.
class Texture {
public:
    Texture(GLenum internal_format, int width, int height);
    GLuint name() const { return object_.name(); }
    int width() const { return width_; }
    int height() const { return height_; }
    void bind(int unit) const;

private:
    GlObject<TextureTraits> object_;
    int width_;
    int height_;
};

/// Where to draw: colour attachments in order, and a depth texture or none.
class Framebuffer {
public:
    struct Colour {
        const Texture* texture;
    };
    Framebuffer(const std::vector<Colour>& colours, const Texture* depth);
    void bind() const;
    /// Reads one colour attachment as floats, `channels` of them, into rows from the bottom as GL
    /// has them.
    void read(int attachment, GLenum format, int width, int height, float* into) const;

private:
    GlObject<FramebufferTraits> object_;
};

/// A linked program.
class Program {
public:
    /// @param name     for messages
    /// @param defines  lines put after the #version line of both sources
    Program(const std::string& name, const char* vertex, const char* fragment,
            const std::string& defines = {});
    Program(const Program&) = delete;
    Program& operator=(const Program&) = delete;
    ~Program();
    void use() const { glUseProgram(program_); }
    GLint location(const char* uniform) const { return glGetUniformLocation(program_, uniform); }
    void bind_block(const char* block, GLuint binding) const;

private:
    GLuint program_;
};

/// Throws Error(no_graphics) when the driver has reported an error since the last call.
void check_gl(const std::string& after);

}  // namespace rakelight
