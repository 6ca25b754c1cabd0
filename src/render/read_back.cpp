#include "render/read_back.hpp"

#include "error.hpp"

namespace rakelight {
namespace {

std::size_t channels_of(GLenum format) {
    return format == GL_RGBA ? 4 : format == GL_RG ? 2 : 1;
}

bool can_stay_mapped() {
    return GLAD_GL_VERSION_4_4 != 0;
}

}  // namespace

// One read's buffer. It only grows, and is replaced when it does.
struct ReadBack::Slot {
    std::unique_ptr<Buffer> buffer;
    std::size_t capacity = 0;
    std::size_t bytes = 0;
    const float* mapped = nullptr;
    GLsync copied = nullptr;

    ~Slot() { glDeleteSync(copied); }

    void make_room(std::size_t wanted) {
        bytes = wanted;
        if (wanted <= capacity) {
            glBindBuffer(GL_PIXEL_PACK_BUFFER, buffer->name());
            return;
        }
        buffer = std::make_unique<Buffer>();
        capacity = wanted;
        mapped = nullptr;
        glBindBuffer(GL_PIXEL_PACK_BUFFER, buffer->name());
        const auto size = static_cast<GLsizeiptr>(wanted);
        if (!can_stay_mapped()) {
            glBufferData(GL_PIXEL_PACK_BUFFER, size, nullptr, GL_STREAM_READ);
            return;
        }
        constexpr GLbitfield access = GL_MAP_READ_BIT | GL_MAP_PERSISTENT_BIT | GL_MAP_COHERENT_BIT;
        glBufferStorage(GL_PIXEL_PACK_BUFFER, size, nullptr, access | GL_CLIENT_STORAGE_BIT);
        mapped = static_cast<const float*>(glMapBufferRange(GL_PIXEL_PACK_BUFFER, 0, size, access));
    }

    void wait() {
        if (copied == nullptr) return;
        constexpr GLuint64 second_ns = 1'000'000'000;
        GLenum state = GL_TIMEOUT_EXPIRED;
        while (state == GL_TIMEOUT_EXPIRED) {
            state = glClientWaitSync(copied, GL_SYNC_FLUSH_COMMANDS_BIT, second_ns);
        }
        glDeleteSync(copied);
        copied = nullptr;
    }
};

ReadBack::ReadBack() = default;
ReadBack::~ReadBack() = default;

ReadBack::Slot& ReadBack::next_slot(std::size_t bytes) {
    if (used_ == slots_.size()) slots_.push_back(std::make_unique<Slot>());
    Slot& slot = *slots_[used_];
    slot.make_room(bytes);
    return slot;
}

std::size_t ReadBack::started(Slot& slot) {
    glBindBuffer(GL_PIXEL_PACK_BUFFER, 0);
    slot.copied = glFenceSync(GL_SYNC_GPU_COMMANDS_COMPLETE, 0);
    return used_++;
}

std::size_t ReadBack::start(const Texture& texture, GLenum format) {
    Slot& slot = next_slot(static_cast<std::size_t>(texture.width()) * texture.height() *
                           channels_of(format) * sizeof(float));
    const Framebuffer source({{&texture}}, nullptr);
    source.read_into_buffer(0, format, texture.width(), texture.height());
    return started(slot);
}

std::size_t ReadBack::start(const Rows& rows) {
    Slot& slot = next_slot(rows.count * sizeof(float));
    glBindBuffer(GL_COPY_READ_BUFFER, rows.buffer->name());
    glCopyBufferSubData(GL_COPY_READ_BUFFER, GL_PIXEL_PACK_BUFFER,
                        static_cast<GLintptr>(rows.first * sizeof(float)), 0,
                        static_cast<GLsizeiptr>(slot.bytes));
    return started(slot);
}

std::size_t ReadBack::start(const Drawn& drawn) {
    if (const auto* texture = std::get_if<Texture>(&drawn)) return start(*texture, GL_RED);
    return start(std::get<Rows>(drawn));
}

std::span<const float> ReadBack::finish(std::size_t read) {
    Slot& slot = *slots_.at(read);
    slot.wait();
    if (slot.mapped == nullptr) {
        glBindBuffer(GL_PIXEL_PACK_BUFFER, slot.buffer->name());
        slot.mapped = static_cast<const float*>(glMapBufferRange(
            GL_PIXEL_PACK_BUFFER, 0, static_cast<GLsizeiptr>(slot.bytes), GL_MAP_READ_BIT));
        glBindBuffer(GL_PIXEL_PACK_BUFFER, 0);
    }
    check_gl("reading a picture back");
    if (slot.mapped == nullptr) {
        throw Error(ExitCode::no_graphics, "the graphics driver maps no memory to read back into");
    }
    return {slot.mapped, slot.bytes / sizeof(float)};
}

void ReadBack::clear() {
    for (std::size_t i = 0; i < used_; ++i) {
        Slot& slot = *slots_[i];
        slot.wait();
        if (can_stay_mapped() || slot.mapped == nullptr) continue;
        glBindBuffer(GL_PIXEL_PACK_BUFFER, slot.buffer->name());
        glUnmapBuffer(GL_PIXEL_PACK_BUFFER);
        glBindBuffer(GL_PIXEL_PACK_BUFFER, 0);
        slot.mapped = nullptr;
    }
    used_ = 0;
}

}  // namespace rakelight
