// An OBJ file and its material library, parted by a NUL, on their way to the importer: what it gets
// is mended for good, line for line, and what the library says can be used.

#include <algorithm>
#include <cmath>
#include <set>

#include "error.hpp"
#include "fuzz_input.hpp"
#include "model/readers/obj_text.hpp"

using namespace rakelight;

namespace {

std::ptrdiff_t count_lines(std::string_view text) {
    return std::count(text.begin(), text.end(), '\n');
}

void check_mended(std::string_view text) {
    const auto mended = mended_obj(text);
    if (!mended) return;
    fuzz::require(count_lines(*mended) >= count_lines(text), "no line is lost");
    const auto again = mended_obj(*mended);
    fuzz::require(!again || *again == *mended, "nothing is left to mend");
}

void check_map(const std::optional<MtlMap>& map) {
    if (!map) return;
    fuzz::require(!map->picture.empty(), "a picture's name");
    fuzz::require(std::abs(map->strength) <= 100.0, "a strength");
    for (const double number : {map->scale[0], map->scale[1], map->offset[0], map->offset[1]})
        fuzz::require(std::isfinite(number), "a number");
}

void check_library(std::string_view text) {
    std::set<std::string> names;
    for (const MtlMaterial& material : read_mtl(text)) {
        fuzz::require(names.insert(material.name).second, "each material once");
        fuzz::require(material.name.find_first_of("\r\n\\") == std::string::npos, "a name");
        for (const auto& map :
             {material.normal, material.bump, material.displacement, material.cut_out})
            check_map(map);
    }
}

void check_together(std::string_view text, std::string_view library) {
    static const fuzz::Folder folder;
    folder.write("a.mtl", library);
    const auto model = folder.write("a.obj", text);
    RecordingIo io(model, stamp_of(model));
    const ObjLibraries libraries = prepare_obj(model, io);
    const std::string* given = io.text_in_place(folder.path() / "a.mtl");
    if (given == nullptr) return;
    for (const MtlMaterial& material : read_mtl(*given))
        fuzz::require(libraries.find(material.name) != nullptr,
                      "the importer's materials are ours");
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    const std::string_view bytes = fuzz::text_of(data, size);
    const std::string_view text = bytes.substr(0, bytes.find('\0'));
    const std::string_view library = bytes.substr(std::min(text.size() + 1, bytes.size()));
    check_mended(text);
    fuzz::refused_or([&] { refuse_bad_corner(text); });
    check_library(library);
    check_together(text, library);
    return 0;
}
