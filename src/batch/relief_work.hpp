#pragma once
// Private to batch/: the finished relief of a picture, made once for all files that show it.

#include <memory>
#include <mutex>

#include "batch/recipe_inputs.hpp"
#include "batch/row_taker.hpp"
#include "relief/finish.hpp"

namespace rakelight {

class ReliefWork final : public RowTaker {
public:
    /// @param grid  outlives it
    ReliefWork(const ReliefSettings& relief, std::shared_ptr<const RecipeInputs> inputs,
               const BlankGeometry& blank, const ImageGrid& grid);

    /// Keeps the whole planes that the recipe asks for.
    void add(const PictureRows& rows) override;

    /// After the last row. Made by whoever asks first; others wait.
    const Relief& relief();

    const ReliefSettings& settings() const { return settings_; }
    const BlankGeometry& blank() const { return blank_; }
    const ImageGrid& grid() const { return grid_; }
    /// Of the whole picture, after the last row.
    const ReliefPlanes& planes() const { return planes_; }

private:
    void keep(const PictureRows& rows, const Plane& from, Plane& to) const;
    void keep_parts(const PictureRows& rows);
    void keep_mask(const PictureRows& rows, std::size_t source);
    void keep_heights(const PictureRows& rows, std::size_t source);
    void draw_sources();

    ReliefSettings settings_;
    ReliefNeeds needs_;
    std::shared_ptr<const RecipeInputs> inputs_;
    BlankGeometry blank_;
    const ImageGrid& grid_;
    ReliefPlanes planes_;
    std::once_flag made_;
    Relief relief_;
};

}  // namespace rakelight
