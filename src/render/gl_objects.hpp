#pragma once
// Private to render/: OpenGL objects that free themselves. All need the context that made them to
// be current. Failures are Error(no_graphics) with the driver's own words.

#include <glad/gl.h>

#include <cstddef>
#include <cstdint>
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

struct QueryTraits {
    static void make(GLuint* name) { glGenQueries(1, name); }
    static void free(const GLuint* name) { glDeleteQueries(1, name); }
};

using Buffer = GlObject<BufferTraits>;
using Query = GlObject<QueryTraits>;
using VertexArray = GlObject<VertexArrayTraits>;

/// A 2D texture without mipmaps, nearest sampling.
class Texture {
public:
    Texture(GLenum internal_format, int width, int height);
    GLuint name() const { return object_.name(); }
    int width() const { return width_; }
    int height() const { return height_; }
    void bind(int unit) const;
    /// As an image that a compute shader writes to.
    void bind_image(GLuint unit, GLenum format) const;

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
    /// Reads one colour attachment as floats into the bound pixel buffer, rows from the bottom as
    /// GL has them.
    void read_into_buffer(int attachment, GLenum format, int width, int height) const;

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
    /// A program of one compute shader; needs has_compute().
    Program(const std::string& name, const char* compute, const std::string& defines);
    Program(const Program&) = delete;
    Program& operator=(const Program&) = delete;
    ~Program();
    void use() const { glUseProgram(program_); }
    GLint location(const char* uniform) const { return glGetUniformLocation(program_, uniform); }
    void bind_block(const char* block, GLuint binding) const;

private:
    void link(const std::string& name, const std::vector<GLuint>& shaders);

    GLuint program_;
};

/// Whether the current context has compute shaders and storage buffers (OpenGL 4.3).
bool has_compute();

/// The largest storage buffer that a shader sees the whole of.
std::int64_t max_storage_bytes();

/// A storage buffer of shaders that only grows: the next picture finds its room made.
class Storage {
public:
    /// Makes room for `bytes`, contents undefined, and binds it as storage block `binding`.
    void reserve(GLuint binding, std::size_t bytes);
    /// The same, with contents.
    void fill(GLuint binding, std::size_t bytes, const void* contents);
    void bind(GLuint binding) const;
    const Buffer& buffer() const { return buffer_; }

private:
    Buffer buffer_;
    std::size_t capacity_ = 0;
};

/// Runs the program in use over width x height invocations in groups, and lets what follows see
/// what it has stored.
void dispatch_over(int width, int height, int group_width, int group_height);

/// Lets later shaders and copies see what compute shaders have stored.
void finish_stores();

/// Throws Error(no_graphics) when the driver has reported an error since the last call.
void check_gl(const std::string& after);

}  // namespace rakelight
