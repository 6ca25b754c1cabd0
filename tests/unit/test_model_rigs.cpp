// Bones, shapes and clips: places by the formulas of the glTF 2.0 specification; section numbers
// are its own.

#include <doctest/doctest.h>

#include <algorithm>
#include <cmath>
#include <cstring>
#include <functional>
#include <glm/gtc/matrix_transform.hpp>
#include <glm/gtc/quaternion.hpp>

#include "error.hpp"
#include "model/posing.hpp"
#include "model/rig/skinning.hpp"
#include "model/rig/tracks.hpp"
#include "test_model_rig_files.hpp"

using namespace rakelight;
using namespace model_test;
namespace fs = std::filesystem;

namespace {

// Files hold floats, all sums are double, and the result is rounded to a float once: for places
// below 4 that is half of 2^-22, and as much again for what the file's numbers were rounded by.
constexpr double place_error = 5e-7;

Mesh load_text(const std::string& text, const PosingSettings& posing = {}) {
    const TemporaryFolder folder;
    write(folder / "a.gltf", text);
    LoadOptions options = no_cache();
    options.reading.posing = posing;
    options.reading.normals = NormalSource::file;
    return load_model(folder / "a.gltf", options);
}

const Vertex* vertex_at(const Mesh& mesh, const glm::dvec3& place) {
    for (const Vertex& vertex : mesh.vertices())
        if (glm::distance(position(vertex), place) < 2.0 * place_error) return &vertex;
    return nullptr;
}

using Move = std::function<glm::dmat4(std::size_t point)>;

/// Every point lies where `move` takes it, with its normal turned by the inverse transposed.
void check_moved(const Mesh& mesh, const Model& model, const Move& move) {
    CHECK(mesh.vertices().size() == model.points.size());
    std::size_t missing = 0;
    double worst_rad = 0.0;
    for (std::size_t i = 0; i < model.points.size(); ++i) {
        const glm::dmat4 m = move(i);
        const Vertex* vertex = vertex_at(mesh, m * glm::dvec4(model.points[i], 1.0));
        missing += vertex == nullptr;
        if (vertex == nullptr || model.normals.empty()) continue;
        const glm::dvec3 normal = glm::normalize(glm::transpose(glm::inverse(glm::dmat3(m))) *
                                                 glm::dvec3(model.normals[i]));
        const glm::dvec3 found = decode_octahedral(vertex->normal);
        worst_rad = std::max(worst_rad, glm::length(glm::cross(normal, found)));
    }
    CHECK(missing == 0);
    // The code's own error, and the floats of file and soup.
    CHECK(worst_rad < code_error_rad + 1e-6);
}

/// 3.7.3.3: the sum over joints of weight times joint matrix, that is the joint's place times its
/// inverse bind matrix. The upper joint stands at (0, 1, 0) and is turned there.
Move bent_by(const Tube& tube, const glm::dmat4& turn) {
    const glm::dmat4 up = glm::translate(glm::dmat4(1.0), {0.0, 1.0, 0.0});
    const glm::dmat4 upper = up * turn * glm::inverse(up);
    return [&tube, upper](std::size_t i) {
        const double share = tube.upper[i];
        return (1.0 - share) * glm::dmat4(1.0) + share * upper;
    };
}

glm::dmat4 turn_z(double degrees) {
    return glm::rotate(glm::dmat4(1.0), glm::radians(degrees), {0.0, 0.0, 1.0});
}

std::string rotation_z(double degrees) {
    const double half = glm::radians(0.5 * degrees);
    return R"("rotation":[0,0,)" + std::to_string(std::sin(half)) + "," +
           std::to_string(std::cos(half)) + "]";
}

// The file states the turn by six digits.
glm::dmat4 turn_as_written(double degrees) {
    const double half = glm::radians(0.5 * degrees);
    const glm::dquat q(std::stod(std::to_string(std::cos(half))), 0.0, 0.0,
                       std::stod(std::to_string(std::sin(half))));
    return glm::mat4_cast(glm::normalize(q));
}

/// An animation of one channel.
struct Channel {
    int node;
    std::string path, between = "LINEAR";
    std::vector<float> times, values;
    std::string type;
};

std::string animation(const std::string& name, const std::vector<Channel>& channels,
                      GltfArrays& arrays) {
    std::string list, samplers;
    for (std::size_t i = 0; i < channels.size(); ++i) {
        const Channel& c = channels[i];
        const int in = arrays.add(c.times, "SCALAR"), out = arrays.add(c.values, c.type);
        const std::string comma = i == 0 ? "" : ",";
        list += comma + R"({"sampler":)" + std::to_string(i) + R"(,"target":{"node":)" +
                std::to_string(c.node) + R"(,"path":")" + c.path + R"("}})";
        samplers += comma + R"({"input":)" + std::to_string(in) + R"(,"output":)" +
                    std::to_string(out) + R"(,"interpolation":")" + c.between + R"("})";
    }
    return "{" + (name.empty() ? "" : R"("name":")" + name + R"(",)") + R"("channels":[)" + list +
           R"(],"samplers":[)" + samplers + "]}";
}

std::vector<float> quaternion_z(double degrees) {
    const double half = glm::radians(0.5 * degrees);
    return {0.0f, 0.0f, static_cast<float>(std::sin(half)), static_cast<float>(std::cos(half))};
}

/// The bent tube with the clips "nod", whose upper joint turns from 0 to 80 degrees in 1 to 3 s,
/// and one without a name, which holds it at 30 degrees.
std::string nodding(const Tube& tube, Bend bend = {}) {
    GltfArrays arrays;
    std::vector<float> turns = quaternion_z(0.0);
    const std::vector<float> last = quaternion_z(80.0), held = quaternion_z(30.0);
    turns.insert(turns.end(), last.begin(), last.end());
    const std::string nod =
        animation("nod", {{3, "rotation", "LINEAR", {1.0f, 3.0f}, turns, "VEC4"}}, arrays);
    const std::string hold =
        animation("", {{3, "rotation", "LINEAR", {0.0f}, held, "VEC4"}}, arrays);
    bend.more += R"(,"animations":[)" + nod + "," + hold + "]";
    return as_bent_gltf(tube, bend, arrays);
}

PosingSettings at(const std::string& clip, double time_s) {
    PosingSettings posing;
    posing.clip = clip;
    posing.clip_time_s = time_s;
    return posing;
}

bool has(const std::string& text, const std::string& part) {
    return text.find(part) != std::string::npos;
}

}  // namespace

TEST_CASE("rigs: a tube bends as its joints stand in the file") {
    const Tube made = tube(9, 12);
    for (const double degrees : {0.0, 35.0, -70.0}) {
        CAPTURE(degrees);
        Bend bend;
        bend.upper_node = "," + rotation_z(degrees);
        // 3.7.3.3: the mesh's own node has no say.
        bend.mesh_node = R"(,"translation":[7,8,9],"scale":[3,3,3])";
        const Mesh mesh = load_text(as_bent_gltf(made, bend));
        check_moved(mesh, made.model, bent_by(made, turn_as_written(degrees)));
        CHECK(mesh.facts().rig.bones == 2);
        CHECK(mesh.facts().rig.shown == "as the file stands");
        CHECK(mesh.facts().warnings.empty());
    }
}

TEST_CASE("rigs: weights that do not add up to 1 are brought to 1, and joints need no names") {
    const Tube made = tube(7, 8);
    Bend bend;
    bend.upper_node = "," + rotation_z(40.0);
    bend.first_weight = 0.25f;
    SUBCASE("weights of a quarter") {}
    SUBCASE("no name") {
        bend.name = "";
    }
    SUBCASE("the name of another node") {
        bend.name = R"("name":"figure",)";
    }
    check_moved(load_text(as_bent_gltf(made, bend)), made.model,
                bent_by(made, turn_as_written(40.0)));
}

TEST_CASE("rigs: at rest the mesh is as it was modelled") {
    const Tube made = tube(7, 8);
    Bend bend;
    bend.upper_node = "," + rotation_z(60.0);
    PosingSettings rest;
    rest.rest = true;
    const Mesh mesh = load_text(as_bent_gltf(made, bend), rest);
    check_moved(mesh, made.model, [](std::size_t) { return glm::dmat4(1.0); });
    CHECK(has(mesh.facts().rig.shown, "as modelled"));
}

TEST_CASE("rigs: a clip turns a joint along the arc between its keys (C.4)") {
    const Tube made = tube(7, 8);
    const std::string text = nodding(made);
    const auto check = [&](const PosingSettings& posing, double degrees) {
        CAPTURE(degrees);
        check_moved(load_text(text, posing), made.model, bent_by(made, turn_z(degrees)));
    };
    check({}, 0.0);
    check(at("nod", 1.0), 0.0);
    check(at("nod", 1.5), 20.0);
    check(at("nod", 2.25), 50.0);
    check(at("nod", 3.0), 80.0);
    check(at("1", 2.0), 40.0);
    check(at("2", 0.0), 30.0);
    const RigFacts rig = load_text(text).facts().rig;
    REQUIRE(rig.clips.size() == 2);
    CHECK(rig.clips[0].name == "nod");
    CHECK(rig.clips[0].from_s == 1.0);
    CHECK(rig.clips[0].to_s == 3.0);
    CHECK(rig.clips[1].name == "2");
    CHECK(rig.clips[1].to_s == 0.0);
    CHECK(load_text(text, at("nod", 1.5)).facts().rig.shown == "the clip \"nod\" at 1.5 s");
}

TEST_CASE("rigs: a time outside of a clip is its nearest end, and a warning says where it lies") {
    const Tube made = tube(5, 6);
    const std::string text = nodding(made);
    for (const auto& [time_s, degrees, word] :
         {std::tuple{9.0, 80.0, "end"}, std::tuple{-1.0, 0.0, "beginning"}}) {
        const Mesh mesh = load_text(text, at("nod", time_s));
        check_moved(mesh, made.model, bent_by(made, turn_z(degrees)));
        REQUIRE(mesh.facts().warnings.size() == 1);
        CHECK(has(mesh.facts().warnings[0], "the clip \"nod\" runs from 1 s to 3 s"));
        CHECK(has(mesh.facts().warnings[0], word));
    }
}

// A law: a clip at its first key is the file whose nodes stand as that key says.
TEST_CASE("rigs: a clip at a key is the file that stands so") {
    const Tube made = tube(7, 8);
    Bend bend;
    bend.upper_node = R"(,"rotation":[0,0,0.28,0.96],"scale":[1,0.5,2])";
    const Mesh stands = load_text(as_bent_gltf(made, bend));
    GltfArrays arrays;
    Bend moving;
    moving.more =
        R"(,"animations":[)" +
        animation("a",
                  {{3,
                    "rotation",
                    "LINEAR",
                    {0.5f, 1.0f},
                    {0.0f, 0.0f, 0.28f, 0.96f, 0.0f, 0.0f, 0.6f, 0.8f},
                    "VEC4"},
                   {3, "scale", "STEP", {0.5f, 1.0f}, {1.0f, 0.5f, 2.0f, 1, 1, 1}, "VEC3"}},
                  arrays) +
        "]";
    const std::string text = as_bent_gltf(made, moving, arrays);
    // The importer makes a node's matrix in floats: each of its numbers, and with it each place,
    // carries a few roundings of 2^-24.
    const auto same = [&](const Mesh& mesh) {
        return std::equal(mesh.vertices().begin(), mesh.vertices().end(), stands.vertices().begin(),
                          stands.vertices().end(), [](const Vertex& a, const Vertex& b) {
                              return glm::distance(position(a), position(b)) < place_error &&
                                     glm::length(glm::cross(decode_octahedral(a.normal),
                                                            decode_octahedral(b.normal))) <
                                         2.0 * code_error_rad;
                          });
    };
    CHECK(same(load_text(text, at("a", 0.5))));
    CHECK_FALSE(same(load_text(text, at("a", 1.0))));
    CHECK_FALSE(same(load_text(text)));
}

TEST_CASE("rigs: an animated node goes by lines, steps and curves (C.2, C.3, C.5)") {
    const Model model = box({0, 0, 0}, {1, 1, 1});
    const auto place_at = [&](const std::string& between, const std::vector<float>& values,
                              double time_s) {
        GltfArrays arrays;
        const int points = arrays.add(model.points), indices = arrays.add_indices(model.triangles);
        const std::string clips =
            animation("go", {{0, "translation", between, {1.0f, 3.0f}, values, "VEC3"}}, arrays);
        const std::string text = gltf_file(
            arrays, R"("nodes":[{"name":"box","mesh":0,"scale":[2,1,1]}],"meshes":[{"primitives":[)"
                    R"({"attributes":{"POSITION":)" +
                        std::to_string(points) + R"(},"indices":)" + std::to_string(indices) +
                        R"(}]}],"animations":[)" + clips + "]");
        const Mesh mesh = load_text(text, at("go", time_s));
        CHECK(mesh.bounds().size() == glm::dvec3(2, 1, 1));  // what no channel moves stays
        return mesh.bounds().low;
    };
    const std::vector<float> two{1, 0, 0, 3, 8, -4};
    CHECK(place_at("LINEAR", two, 1.5) == glm::dvec3(1.5, 2, -1));
    CHECK(place_at("STEP", two, 2.99) == glm::dvec3(1, 0, 0));
    CHECK(place_at("STEP", two, 3.0) == glm::dvec3(3, 8, -4));
    // In-tangent, value, out-tangent. C.5 at t = 1/4 with td = 2: the four weights are 27/32, 9/32
    // (of 2 times 9/64), 5/32 and -3/32 (of 2 times -3/64).
    const std::vector<float> curve{9, 9, 9, 1, 0, 0, 32, 0, 0, 0, 32, 0, 3, 8, -4, 9, 9, 9};
    CHECK(place_at("CUBICSPLINE", curve, 1.5) ==
          glm::dvec3(27.0 / 32 + 9.0 + 15.0 / 32, 40.0 / 32 - 3.0, -20.0 / 32));
}

TEST_CASE("shapes: a mesh plus the weighted differences (3.7.2.2), the node's weights first") {
    const Model model = box({0, 0, 0}, {1, 1, 1});
    std::vector<glm::vec3> taller(8, glm::vec3(0.0f)), wider = taller;
    for (std::size_t i = 0; i < 8; ++i) {
        taller[i].y = 2.0f * model.points[i].y;
        wider[i].x = 4.0f * model.points[i].x;
    }
    struct File {
        std::string mesh, node;
        bool moving = false;
    };
    const auto size_of = [&](const File& file, const PosingSettings& posing) {
        GltfArrays arrays;
        const auto id = [](int accessor) { return std::to_string(accessor); };
        const std::string p = id(arrays.add(model.points)), q = id(arrays.add(taller)),
                          r = id(arrays.add(wider)), i = id(arrays.add_indices(model.triangles));
        const std::string clips = file.moving ? R"(,"animations":[)" +
                                                    animation("grow",
                                                              {{0,
                                                                "weights",
                                                                "LINEAR",
                                                                {0.0f, 1.0f},
                                                                {0.0f, 1.0f, 1.0f, -0.5f},
                                                                "SCALAR"}},
                                                              arrays) +
                                                    "]"
                                              : "";
        const Mesh mesh = load_text(
            gltf_file(arrays, R"("nodes":[{"mesh":0)" + file.node +
                                  R"(}],"meshes":[{"extras":{"targetNames":["tall","wide"]})" +
                                  file.mesh + R"(,"primitives":[{"attributes":{"POSITION":)" + p +
                                  R"(},"indices":)" + i + R"(,"targets":[{"POSITION":)" + q +
                                  R"(},{"POSITION":)" + r + "}]}]}]" + clips),
            posing);
        CHECK(mesh.facts().rig.shapes.size() == 2);
        CHECK(mesh.facts().rig.shapes[0].name == "tall");
        CHECK(mesh.facts().rig.bones == 0);
        return mesh.bounds().size();
    };
    const auto set = [](std::map<std::string, double> shapes) {
        PosingSettings posing;
        posing.shapes = std::move(shapes);
        return posing;
    };
    const File plain{}, weighted{R"(,"weights":[0.25,0.5])", ""},
        both{R"(,"weights":[0.25,0.5])", R"(,"weights":[0.5,0])"};
    CHECK(size_of(plain, {}) == glm::dvec3(1, 1, 1));
    CHECK(size_of(weighted, {}) == glm::dvec3(3, 1.5, 1));
    CHECK(size_of(both, {}) == glm::dvec3(1, 2, 1));
    CHECK(size_of(weighted, set({{"wide", 0.0}})) == glm::dvec3(1, 1.5, 1));
    CHECK(size_of(plain, set({{"wide", 1.0}, {"tall", 1.5}})) == glm::dvec3(5, 4, 1));
    CHECK(size_of(weighted, set({{"wide", 0.0}, {"tall", 0.0}})) == size_of(plain, {}));
    PosingSettings rest;
    rest.rest = true;
    CHECK(size_of(weighted, rest) == glm::dvec3(1, 1, 1));
    // A clip's weights, below 0 too, and what is set goes before them.
    const File moving{R"(,"weights":[1,1])", "", true};
    CHECK(size_of(moving, at("grow", 0.0)) == glm::dvec3(5, 1, 1));
    CHECK(size_of(moving, at("grow", 0.5)) == glm::dvec3(2, 2, 1));
    CHECK(size_of(moving, at("grow", 1.0)) == glm::dvec3(1, 3, 1));  // mirrored by 1 - 4/2
    PosingSettings held = at("grow", 0.5);
    held.shapes["wide"] = 0.0;
    CHECK(size_of(moving, held) == glm::dvec3(1, 2, 1));
}

TEST_CASE("rigs: what the file does not have is named, with what it has") {
    RigFacts rig;
    rig.clips = {{"Walk", 0, 1}, {"Run", 0, 1}};
    rig.shapes = {{"smile", 0.0}};
    const auto fault = [&](auto&& change) {
        PosingSettings posing;
        change(posing);
        return posing_fault(posing, rig);
    };
    CHECK(fault([](auto&) {}) == "");
    CHECK(fault([](auto& p) { p.clip = "Walk"; }) == "");
    CHECK(fault([](auto& p) { p.clip = "2"; }) == "");
    CHECK(fault([](auto& p) { p.clip = "walc"; }) ==
          "clip: found \"walc\", which is the name of no clip; expected one of \"Walk\", \"Run\" "
          "(`rakelight inspect` lists them). Did you mean \"Walk\"?");
    CHECK(has(fault([](auto& p) { p.clip = "3"; }), "found \"3\", which is the name of no clip"));
    CHECK(has(fault([](auto& p) { p.clip = "0"; }), "found \"0\""));
    CHECK(has(fault([](auto& p) { p.shapes["smyle"] = 1; }), "Did you mean \"smile\"?"));
    CHECK(has(fault([](auto& p) { p.frame = 0; }), "the file has no vertex frames"));
    rig = {};
    rig.frames = 3;
    CHECK(fault([](auto& p) { p.frame = 2; }) == "");
    CHECK(has(fault([](auto& p) { p.frame = 3; }), "found 3; expected 0 to 2: the file has 3"));
    CHECK(has(fault([](auto& p) { p.clip = "Walk"; }), "the file has no clips; expected none"));
    CHECK(has(fault([](auto& p) { p.shapes["a"] = 1; }), "the file has no shapes"));
}

// Whatever such a file means, it costs no more than a clear refusal.
TEST_CASE("rigs: files that lie about their rig neither crash nor hang the import") {
    const Tube made = tube(5, 6);
    Bend bend;
    bend.upper_node = "," + rotation_z(30.0);
    const std::string sound = nodding(made, bend);
    const auto with = [&](const std::string& from, const std::string& to) {
        std::string text = sound;
        const std::size_t at_text = text.find(from);
        REQUIRE(at_text != std::string::npos);
        return text.replace(at_text, from.size(), to);
    };
    std::vector<std::string> files{with(R"("joints":[2,3])", R"("joints":[2,77])"),
                                   with(R"("joints":[2,3])", R"("joints":[2])"),
                                   with(R"("joints":[2,3])", R"("joints":[])"),
                                   with(R"("children":[3])", R"("children":[3,2])"),
                                   with(R"("children":[3])", R"("children":[0])"),
                                   with(R"("node":3)", R"("node":99)"),
                                   with(R"("sampler":0)", R"("sampler":9)"),
                                   with(R"("path":"rotation")", R"("path":"weights")"),
                                   with(R"("path":"rotation")", R"("path":"scale")"),
                                   with(R"("interpolation":"LINEAR")", R"("interpolation":4)"),
                                   with(R"("count":2)", R"("count":0)"),
                                   with(R"("count":2)", R"("count":4000000000)")};
    for (const float weight : {0.0f, -1.0f, std::nanf(""), INFINITY}) {
        bend.first_weight = weight;
        files.push_back(as_bent_gltf(made, bend));
    }
    const TemporaryFolder folder;
    for (const std::string& text : files) {
        CAPTURE(text.substr(0, 700));
        write(folder / "a.gltf", text);
        for (const PosingSettings& posing : {PosingSettings{}, at("nod", 2.0)}) {
            LoadOptions options = no_cache();
            options.reading.posing = posing;
            const std::string message = bad_model_message(folder / "a.gltf", options);
            CAPTURE(message);
            CHECK_FALSE(has(message, "crashed"));
            CHECK_FALSE(has(message, "another error"));
        }
    }
    // Without a weight that counts, a mesh stays at its node.
    bend.first_weight = 0.0f;
    check_moved(load_text(as_bent_gltf(made, bend)), made.model,
                [](std::size_t) { return glm::dmat4(1.0); });
}

namespace {

/// A mesh of three points on the axes with two bones, as an importer may hand it over.
struct LooseMesh {
    std::array<aiVector3D, 3> points{aiVector3D(1, 0, 0), aiVector3D(0, 1, 0), aiVector3D(0, 0, 1)};
    std::array<std::vector<aiVertexWeight>, 2> weights;
    std::array<aiBone, 2> bones;
    std::array<aiBone*, 2> bone_list{&bones[0], &bones[1]};
    aiMesh mesh;
    Instance instance{0, nullptr, &mesh, {}, {}};

    LooseMesh() {
        mesh.mVertices = points.data();
        mesh.mNumVertices = 3;
    }
    ~LooseMesh() {  // nothing of it is the mesh's own
        for (aiBone& bone : bones) bone.mWeights = nullptr;
        mesh.mVertices = nullptr;
        mesh.mBones = nullptr;
        mesh.mAnimMeshes = nullptr;
        mesh.mNumBones = mesh.mNumAnimMeshes = 0;
    }
    LooseMesh(const LooseMesh&) = delete;
    LooseMesh& operator=(const LooseMesh&) = delete;

    std::array<glm::vec3, 3> placed(const MeshPose& pose) {
        for (std::size_t b = 0; b < 2; ++b) {
            bones[b].mWeights = weights[b].data();
            bones[b].mNumWeights = static_cast<unsigned>(weights[b].size());
        }
        mesh.mBones = bone_list.data();
        mesh.mNumBones = 2;
        std::array<glm::vec3, 3> out;
        place_mesh(instance, pose, out.data(), nullptr);
        return out;
    }
};

glm::dmat4 shift(double x, double y, double z) {
    return glm::translate(glm::dmat4(1.0), glm::dvec3(x, y, z));
}

}  // namespace

TEST_CASE("rigs: weights that are no weights count nothing") {
    LooseMesh loose;
    const float nan = std::nanf("");
    loose.weights[0] = {{0, 0.5f}, {1, nan}, {2, -1.0f}, {3, 1.0f}, {0xFFFFFFFF, 1.0f}};
    loose.weights[1] = {{0, 0.5f}, {1, INFINITY}, {2, 0.25f}};
    const auto places = loose.placed({shift(0, 0, 8), {shift(2, 0, 0), shift(0, 4, 0)}, {}});
    CHECK(places[0] == glm::vec3(2, 2, 0));  // between both bones
    CHECK(places[1] == glm::vec3(0, 1, 8));  // no weight is left: where the mesh's node is
    CHECK(places[2] == glm::vec3(0, 4, 1));
}

// COLLADA 1.4.1 specification, <morph>: RELATIVE adds the weighted targets to the base, NORMALIZED
// takes (1 - sum of weights) of the base.
TEST_CASE("shapes: whole targets and relative ones; a target of another size is left out") {
    LooseMesh loose;
    std::array<aiVector3D, 3> target{aiVector3D(3, 0, 0), aiVector3D(0, 1, 0), aiVector3D(0, 0, 1)};
    aiAnimMesh shape;
    std::array<aiAnimMesh*, 1> shapes{&shape};
    shape.mVertices = target.data();
    shape.mNumVertices = 3;
    loose.mesh.mAnimMeshes = shapes.data();
    loose.mesh.mNumAnimMeshes = 1;
    loose.instance.shapes = {{"wide", 0.0}};
    const auto first = [&](unsigned method, unsigned points) {
        loose.mesh.mMethod = method;
        shape.mNumVertices = points;
        return loose.placed({glm::dmat4(1.0), {}, {0.25}})[0].x;
    };
    CHECK(first(aiMorphingMethod_MORPH_NORMALIZED, 3) == 0.75f * 1.0f + 0.25f * 3.0f);
    CHECK(first(0, 3) == 1.5f);
    CHECK(first(aiMorphingMethod_MORPH_RELATIVE, 3) == 1.0f + 0.25f * 3.0f);
    CHECK(first(0, 2) == 1.0f);
    shape.mVertices = nullptr;
}

TEST_CASE("tracks: keys that are no numbers are dropped, others sorted") {
    Track<double> track{{{2.0, 20.0},
                         {std::nan(""), 1.0},
                         {1.0, std::nan("")},
                         {0.0, 0.0},
                         {2.0, 99.0},
                         {1.0, INFINITY}}};
    tidy(track);
    REQUIRE(track.keys.size() == 2);
    CHECK(value_at(track, -5.0) == 0.0);
    CHECK(value_at(track, 0.5) == 5.0);
    CHECK(value_at(track, 7.0) == 20.0);
    Track<glm::dquat> turns{{{0.0, glm::dquat(0, 0, 0, 0)}}};
    tidy(turns);
    CHECK(turns.keys.empty());
    // The shorter way round: q and -q are one turn.
    const glm::dquat half = between(glm::dquat(1, 0, 0, 0), glm::dquat(0, -1, 0, 0), 0.5);
    CHECK(std::abs(glm::dot(half, glm::dquat(std::sqrt(0.5), std::sqrt(0.5), 0, 0))) <= 1.0);
    const glm::dquat near = between(glm::dquat(1, 0, 0, 0), glm::dquat(-1, 0, 0, 1e-9), 0.5);
    CHECK(std::abs(near.w) == doctest::Approx(1.0));
}

TEST_CASE("rigs: the importer's own test models hang together") {
    const fs::path models = "/usr/share/assimp/models";
    if (!fs::exists(models)) {
        MESSAGE("skipped: the package assimp-testmodels is not installed");
        return;
    }
    const auto load_posed = [&](const char* name, const PosingSettings& posing) {
        LoadOptions options = no_cache();
        options.reading.posing = posing;
        return load_model(models / name, options);
    };
    SUBCASE("a figure's head lies on its body: the boxes of all parts overlap in one pile") {
        for (const bool rest : {false, true}) {
            PosingSettings posing;
            posing.rest = rest;
            const Mesh mesh = load_posed("X/BCN_Epileptic.X", posing);
            REQUIRE(mesh.parts().size() == 3);
            glm::dvec3 sum(0.0);
            for (const Part& part : mesh.parts()) sum += part.bounds.size();
            const glm::dvec3 size = mesh.bounds().size();
            CHECK(std::max({size.x, size.y, size.z}) <= std::max({sum.x, sum.y, sum.z}));
        }
    }
    SUBCASE("the file's vertices are in their bind pose: bones that stand so move nothing") {
        PosingSettings rest;
        rest.rest = true;
        for (const char* name : {"MDL/MDL (HL1)/man.mdl", "MD5/SimpleCube.md5mesh"}) {
            CAPTURE(std::string(name));
            const Bounds moved = load_posed(name, {}).bounds(),
                         still = load_posed(name, rest).bounds();
            const double largest = glm::length(still.size());
            CHECK(glm::distance(moved.low, still.low) < 1e-5 * largest);
            CHECK(glm::distance(moved.high, still.high) < 1e-5 * largest);
        }
    }
    SUBCASE("parts keep their names when a clip moves an FBX file's pivots") {
        const Mesh still = load_posed("FBX/animation_with_skeleton.fbx", {});
        const Mesh moved = load_posed("FBX/animation_with_skeleton.fbx", at("1", 0.4));
        REQUIRE(moved.parts().size() == still.parts().size());
        CHECK(moved.parts()[0].name == still.parts()[0].name);
    }
}

namespace {

/// Extents of the points of one frame, by the layout of an MD2 file: at 56 the offset of the
/// frames, at 16 the size of one; each begins with a scale and an offset, then 16 letters, then
/// three bytes and a fourth for each point (from memory of the format's published description).
glm::dvec3 md2_extent(const std::string& file, std::size_t frame) {
    const auto number = [&](std::size_t offset, auto kind) {
        std::memcpy(&kind, file.data() + offset, sizeof kind);
        return kind;
    };
    const std::size_t points = number(24, std::uint32_t{});
    const std::size_t begin = number(56, std::uint32_t{}) + frame * number(16, std::uint32_t{});
    glm::dvec3 low(1e9), high(-1e9);
    for (std::size_t i = 0; i < points; ++i)
        for (int k = 0; k < 3; ++k) {
            const double v = number(begin + 4 * k, 0.0f) *
                             static_cast<unsigned char>(file[begin + 40 + 4 * i + k]);
            low[k] = std::min(low[k], v);
            high[k] = std::max(high[k], v);
        }
    return high - low;
}

}  // namespace

TEST_CASE("frames: the one that is asked for is read") {
    const fs::path file = "/usr/share/assimp/models/MD2/faerie.md2";
    if (!fs::exists(file)) {
        MESSAGE("skipped: the package assimp-testmodels is not installed");
        return;
    }
    const std::string bytes = read(file);
    for (const int frame : {0, 60, 197}) {
        LoadOptions options = no_cache();
        options.reading.posing.frame = frame;
        const Mesh mesh = load_model(file, options);
        CHECK(mesh.facts().rig.frames == 198);
        CHECK(mesh.facts().rig.shown == "frame " + std::to_string(frame));
        const glm::dvec3 size = mesh.bounds().size();
        const glm::dvec3 expected = md2_extent(bytes, static_cast<std::size_t>(frame));
        // The importer turns z up to y up.
        const glm::dvec3 turned(expected.x, expected.z, expected.y);
        CHECK(glm::distance(size, turned) < 1e-5 * glm::length(turned));
    }
}
