#pragma once
// The parts of a glTF 2.0 file that the importer does not hand on: its JSON, and the numbers of its
// accessors. Private to model/.

#include <cstdint>
#include <filesystem>
#include <map>
#include <memory>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "model/mapped_file.hpp"
#include "model/readers/recording_io.hpp"

namespace rakelight {

/// A whole number from 0 on, however it is written; throws std::out_of_range for any other, whose
/// conversion would be undefined.
std::size_t whole_number(const nlohmann::json& json);

/// The member's whole number, or the default where there is no such member. Throws as whole_number.
std::size_t whole_member(const nlohmann::json& object, const char* member, std::size_t otherwise);

/// The whole numbers of the member, which is a list; none where there is no such member. Throws as
/// whole_number.
std::vector<std::size_t> whole_members(const nlohmann::json& object, const char* member);

/// A .gltf or .glb file; what was put in place of it, if there is that.
class GltfDocument {
public:
    /// Throws nlohmann::json::exception when there is no JSON, std::system_error when the file
    /// cannot be read.
    /// @param io  opens the files of buffers, and remembers them; outlives this
    GltfDocument(const std::filesystem::path& file, RecordingIo& io);
    ~GltfDocument();
    GltfDocument(const GltfDocument&) = delete;
    GltfDocument& operator=(const GltfDocument&) = delete;

    const nlohmann::json& tree() const { return *tree_; }
    /// To change what is there; accessors that were there stay as they are.
    nlohmann::json& tree() { return *tree_; }

    bool is_binary() const { return is_binary_; }
    /// Of a .glb: what lies behind its JSON.
    std::string_view binary() const { return binary_; }
    /// Whether a byte order mark stands before the JSON.
    bool has_mark() const { return has_mark_; }

    /// All components of an accessor, one element after the other; whole numbers that stand for
    /// parts of 1 are turned into these (glTF 2.0 specification, 3.6.2.2 and 3.11). Nothing when
    /// the accessor leads out of its buffer or is sparse, or its buffer cannot be had.
    /// @param components  in each element
    std::optional<std::vector<double>> numbers(std::size_t accessor, std::size_t components);

    /// How many bytes a buffer has, where it lies; 0 when it cannot be had.
    std::uint64_t buffer_size(const nlohmann::json& buffer);
    std::uint64_t json_size() const { return json_size_; }

    /// The first bytes of an image, wherever it lies; empty when it cannot be had.
    std::string image_start(std::size_t image, std::size_t most);

private:
    std::string_view buffer(std::size_t index);
    std::string_view view_of(const nlohmann::json& accessor, std::size_t element_bytes,
                             std::size_t& stride);

    std::filesystem::path folder_;
    RecordingIo& io_;
    MappedFile mapped_;
    std::string in_place_;
    std::unique_ptr<nlohmann::json> tree_;
    std::string_view binary_;  ///< of a .glb
    bool is_binary_ = false;
    bool has_mark_ = false;
    std::uint64_t json_size_ = 0;
    std::map<std::size_t, std::string> buffers_;
};

}  // namespace rakelight
