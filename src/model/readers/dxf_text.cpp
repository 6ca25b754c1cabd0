// DXF reference, from memory: group codes of VERTEX (71 to 74), INSERT (2 name, 10 20 30 place, 41
// 42 43 scale, 50 angle in degrees, 70 71 columns and rows, 44 45 their spacing, 210 220 230
// extrusion) and BLOCK (2 name, 10 20 30 base point); object coordinates, "arbitrary axis
// algorithm".

#include "model/readers/dxf_text.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <glm/gtc/matrix_transform.hpp>
#include <map>
#include <string_view>
#include <vector>

#include "error.hpp"
#include "model/readers/text_scan.hpp"

namespace rakelight {
namespace {

/// Two lines: what a value is, and the value.
struct Group {
    int code = -1;  ///< -1: no number
    std::string_view value;
    std::string_view lines;  ///< both, with their ends
    bool is_whole = false;   ///< has both
};

template <class Number>
Number number_of(std::string_view text, Number otherwise) {
    if (text.starts_with('+')) text.remove_prefix(1);
    Number number{};
    const auto read = std::from_chars(text.data(), text.data() + text.size(), number);
    return read.ec == std::errc{} ? number : otherwise;
}

Group take_group(std::string_view& text) {
    const auto line_end = [&](std::size_t from) {
        const std::size_t end = text.find('\n', from);
        return end == text.npos ? text.size() : end + 1;
    };
    const std::size_t first = line_end(0), second = line_end(first);
    const Group group{number_of(trimmed(text.substr(0, first)), -1),
                      trimmed(text.substr(first, second - first)), text.substr(0, second),
                      first < text.size()};
    text.remove_prefix(second);
    return group;
}

/// An entity, or what else a group of code 0 begins: that one and all up to the next one.
struct Entity {
    std::vector<Group> groups;

    std::string_view type() const {
        return groups.empty() || groups.front().code != 0 ? "" : groups.front().value;
    }
    std::string_view text(int code) const {
        for (const Group& group : groups)
            if (group.code == code) return group.value;
        return {};
    }
    double number(int code, double otherwise) const { return number_of(text(code), otherwise); }
    glm::dvec3 point(int code) const {
        return {number(code, 0.0), number(code + 10, 0.0), number(code + 20, 0.0)};
    }
};

/// Whether there was one.
bool take_entity(std::string_view& text, Entity& entity) {
    entity.groups.clear();
    while (!text.empty()) {
        std::string_view rest = text;
        const Group group = take_group(rest);
        if (group.code == 0 && !entity.groups.empty()) break;
        text = rest;
        // A code at the end of the text, without a value, would take the next line for it where
        // something is written behind.
        if (group.is_whole) entity.groups.push_back(group);
    }
    return !entity.groups.empty();
}

/// Entities, and what is subtracted from the coordinates of their points.
struct Block {
    std::string_view body;
    glm::dvec3 base;
};

using Blocks = std::map<std::string, Block>;

/// Takes what belongs to a block, up to its end; one whose end is missing ends with its section.
std::string_view take_body(std::string_view& text) {
    const char* begin = text.data();
    std::string_view rest = text;
    Entity entity;
    while (take_entity(rest, entity) && entity.type() != "ENDBLK" && entity.type() != "ENDSEC")
        text = rest;
    const std::string_view body(begin, static_cast<std::size_t>(text.data() - begin));
    if (entity.type() == "ENDBLK") text = rest;
    return body;
}

Blocks blocks_of(std::string_view text) {
    Blocks blocks;
    Entity entity;
    while (take_entity(text, entity)) {
        if (entity.type() != "BLOCK") continue;
        const std::string name = lower(std::string(entity.text(2)));
        const glm::dvec3 base = entity.point(10);
        blocks[name] = {take_body(text), base};
    }
    return blocks;
}

/// From coordinates of an object whose plane stands upright on this direction.
glm::dmat4 world_from_object(glm::dvec3 direction) {
    const double length = glm::length(direction);
    if (!(length > 0.0)) return glm::dmat4(1.0);
    const glm::dvec3 z = direction / length;
    constexpr double near = 1.0 / 64.0;
    const bool upright = std::abs(z.x) < near && std::abs(z.y) < near;
    const glm::dvec3 x =
        glm::normalize(glm::cross(upright ? glm::dvec3(0, 1, 0) : glm::dvec3(0, 0, 1), z));
    return {glm::dvec4(x, 0), glm::dvec4(glm::cross(z, x), 0), glm::dvec4(z, 0),
            glm::dvec4(0, 0, 0, 1)};
}

bool is_surface(std::string_view type) {
    return type == "VERTEX" || type == "3DFACE" || type == "LINE" || type == "3DLINE";
}

/// Writes a file anew.
class Writer {
public:
    explicit Writer(std::string_view text) : text_(text), blocks_(blocks_of(text)) {}

    std::optional<std::string> write() {
        Entity entity;
        std::string_view rest = text_;
        bool in_blocks = false;
        while (take_entity(rest, entity)) {
            if (entity.type() == "SECTION") in_blocks = entity.text(2) == "BLOCKS";
            // Whatever of a block is seen is written where it is inserted.
            if (in_blocks && entity.type() == "BLOCK")
                take_body(rest);
            else
                put(entity, nullptr, 0);
        }
        if (!changed_) return std::nullopt;
        return std::move(out_);
    }

private:
    static constexpr int deepest = 100;
    static constexpr std::size_t most_places = 1'000'000;

    /// @param place  null: where the file says
    void put(const Entity& entity, const glm::dmat4* place, int depth) {
        if (entity.type() == "INSERT") return insert(entity, place, depth);
        const bool moves = place != nullptr && is_surface(entity.type());
        for (const Group& group : entity.groups) {
            const bool is_corner = group.code >= 71 && group.code <= 74;
            const bool is_coordinate = group.code >= 10 && group.code <= 33 && group.code % 10 < 4;
            if (is_corner && entity.type() == "VERTEX" && group.value.starts_with('-')) {
                const std::size_t signs = group.value.find_first_not_of('-');
                put_group(group.code, group.value.substr(std::min(signs, group.value.size())));
                changed_ = true;
            } else if (!(moves && is_coordinate)) {
                out_ += group.lines;
            }
        }
        if (!out_.ends_with('\n')) out_ += '\n';
        for (int corner = 10; moves && corner < 14; ++corner)
            if (!entity.text(corner).empty()) put_point(corner, entity.point(corner), *place);
    }

    void put_group(int code, std::string_view value) {
        out_ += std::to_string(code) + "\n";
        out_ += value;
        out_ += '\n';
    }

    void put_point(int code, const glm::dvec3& point, const glm::dmat4& place) {
        const glm::dvec3 moved(place * glm::dvec4(point, 1.0));
        for (int axis = 0; axis < 3; ++axis) {
            std::array<char, 32> digits{};
            const auto end =
                std::to_chars(digits.data(), digits.data() + digits.size(), moved[axis]).ptr;
            put_group(code + 10 * axis,
                      {digits.data(), static_cast<std::size_t>(end - digits.data())});
        }
    }

    void insert(const Entity& entity, const glm::dmat4* place, int depth) {
        changed_ = true;
        const auto block = blocks_.find(lower(std::string(entity.text(2))));
        if (block == blocks_.end()) return;
        const glm::dmat4 one(1.0);
        const glm::dmat4 start = (place != nullptr ? *place : one) *
                                 world_from_object(entity.point(210)) *
                                 glm::translate(one, entity.point(10)) *
                                 glm::rotate(one, glm::radians(entity.number(50, 0.0)), {0, 0, 1});
        const glm::dmat4 end =
            glm::scale(one, {entity.number(41, 1), entity.number(42, 1), entity.number(43, 1)}) *
            glm::translate(one, -block->second.base);
        const int columns = std::max(1, number_of(entity.text(70), 1));
        const int rows = std::max(1, number_of(entity.text(71), 1));
        for (int row = 0; row < rows; ++row)
            for (int column = 0; column < columns; ++column) {
                const glm::dvec3 step(column * entity.number(44, 0), row * entity.number(45, 0), 0);
                put_block(block->second, start * glm::translate(one, step) * end, depth + 1);
            }
    }

    void put_block(const Block& block, const glm::dmat4& place, int depth) {
        constexpr std::size_t much = std::size_t{256} << 20, many_times = 200;
        if (depth > deepest)
            throw Error(ExitCode::bad_model,
                        "its blocks are inserted in each other over " + std::to_string(deepest) +
                            " deep, as one that holds itself would be; export the model again");
        if (++places_ > most_places ||
            (out_.size() > much && out_.size() / many_times > text_.size()))
            throw Error(ExitCode::bad_model,
                        "few lines of it stand for " + std::to_string(places_) +
                            " inserted blocks and more, " + std::to_string(out_.size() >> 20) +
                            " MiB of them; expected at most " + std::to_string(most_places) +
                            " and 256 MiB; export the model without blocks");
        std::string_view body = block.body;
        Entity entity;
        while (take_entity(body, entity)) put(entity, &place, depth);
    }

    std::string_view text_;
    Blocks blocks_;
    std::string out_;
    std::size_t places_ = 0;
    bool changed_ = false;
};

}  // namespace

std::optional<std::string> prepared_dxf(const std::string& text) {
    if (text.find("INSERT") == text.npos && text.find("VERTEX") == text.npos) return std::nullopt;
    return Writer(text).write();
}

}  // namespace rakelight
