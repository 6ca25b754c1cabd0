#include "height_surface.hpp"

namespace reference {
namespace {

constexpr std::uint32_t none = 0xFFFFFFFFU;

class Builder {
public:
    Builder(const SampleGrid& grid, double deep_mm)
        : grid_(grid),
          deep_mm_(deep_mm),
          index_(static_cast<std::size_t>(grid.columns()) * grid.rows(), none) {}

    HeightSurface build() {
        const int n = grid_.per_axis;
        for (int row = grid_.box.first.y * n; row < grid_.box.end.y * n; ++row) {
            for (int column = grid_.box.first.x * n; column < grid_.box.end.x * n; ++column) {
                fill_cell(column, row);
                end_edge(column, row, 1, 0);
                end_edge(column, row, 0, 1);
            }
        }
        return std::move(surface_);
    }

private:
    bool covered(int column, int row) const { return grid_.at(column, row).hit(); }

    std::uint32_t point(int column, int row) {
        std::uint32_t& index = index_[static_cast<std::size_t>(row) * grid_.columns() + column];
        if (index == none) index = add(grid_.at(column, row).at);
        return index;
    }

    std::uint32_t add(glm::dvec3 at) {
        surface_.points.push_back(at);
        return static_cast<std::uint32_t>(surface_.points.size() - 1);
    }

    // Corners of a cell, around it.
    struct Corner {
        int column, row;
    };
    static std::array<Corner, 4> corners(int column, int row) {
        return {{{column, row}, {column + 1, row}, {column + 1, row + 1}, {column, row + 1}}};
    }

    int count(int column, int row) const {
        int sum = 0;
        for (const auto& c : corners(column, row)) sum += covered(c.column, c.row);
        return sum;
    }

    void fill_cell(int column, int row) {
        if (count(column, row) < 3) return;
        std::array<Corner, 4> there{};
        std::size_t found = 0;
        for (const auto& c : corners(column, row)) {
            if (covered(c.column, c.row)) there[found++] = c;
        }
        const auto at = [&](std::size_t i) { return point(there[i].column, there[i].row); };
        surface_.triangles.push_back({at(0), at(1), at(2)});
        if (found == 4) {
            surface_.triangles.push_back({at(0), at(2), at(3)});
            return;
        }
        // The one side that is no side of the cell is where the subject ends.
        for (std::size_t i = 0; i < 3; ++i) {
            const Corner a = there[i], b = there[(i + 1) % 3];
            if (a.column != b.column && a.row != b.row) wall(a, b);
        }
    }

    // A side of cells of which only one has a triangle at it is where the subject ends.
    void end_edge(int column, int row, int right, int down) {
        const Corner a{column, row}, b{column + right, row + down};
        if (!covered(a.column, a.row) || !covered(b.column, b.row)) return;
        const bool after = count(column, row) >= 3;
        const bool before = count(column - down, row - right) >= 3;
        if (after != before) wall(a, b);
    }

    void wall(Corner a, Corner b) {
        const Sample& first = grid_.at(a.column, a.row);
        const Sample& second = grid_.at(b.column, b.row);
        const std::uint32_t top_a = point(a.column, a.row), top_b = point(b.column, b.row);
        const std::uint32_t low_a = add(first.at - deep_mm_ * glm::dvec3(first.to_viewer));
        const std::uint32_t low_b = add(second.at - deep_mm_ * glm::dvec3(second.to_viewer));
        surface_.triangles.push_back({top_a, top_b, low_b});
        surface_.triangles.push_back({top_a, low_b, low_a});
    }

    const SampleGrid& grid_;
    double deep_mm_;
    std::vector<std::uint32_t> index_;
    HeightSurface surface_;
};

}  // namespace

HeightSurface height_surface(const SampleGrid& grid, double deep_mm) {
    return Builder(grid, deep_mm).build();
}

}  // namespace reference
