#pragma once
// The renderer that works on the processor alone: for machines without a GPU, and for pictures that
// are larger than a GPU's textures. It needs no driver and knows no limit of size but memory.

#include <memory>

#include "render/renderer.hpp"

namespace rakelight {

/// Pixels that are worked on at once, about.
inline constexpr std::int64_t usual_strip_px = std::int64_t{1} << 19;

class ProcessorRenderer final : public Renderer {
public:
    /// @param strip_px  pixels that are worked on at once, about; pictures do not depend on it
    explicit ProcessorRenderer(std::int64_t strip_px = usual_strip_px);
    ~ProcessorRenderer() override;

    /// What was tried before the processor was taken; for the facts.
    void set_attempts(const std::vector<ContextAttempt>& attempts) { facts_.attempts = attempts; }

    void set_mesh(const Mesh& mesh, const std::vector<bool>& used) override;
    const GraphicsFacts& facts(const RenderRequest&) const override { return facts_; }
    /// Throws Error(unusable_picture) for a picture of more than 131,072 px a side at four samples
    /// an axis (in proportion at others).
    void render(const RenderRequest& request, const RowSink& sink,
                RenderTimes* times = nullptr) override;

private:
    struct Subject;
    std::int64_t strip_px_;
    GraphicsFacts facts_;
    std::unique_ptr<Subject> subject_;
};

}  // namespace rakelight
