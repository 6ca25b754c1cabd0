// Importing: the command without its cache against bare Assimp on the same file, and the mesh from
// the cache against our own import.

#include <assimp/postprocess.h>
#include <assimp/scene.h>

#include <assimp/Importer.hpp>
#include <cstdio>
#include <fstream>
#include <stdexcept>

#include "subject.hpp"

namespace bench {
namespace {

const aiScene& read(Assimp::Importer& importer, const fs::path& file) {
    const aiScene* scene = importer.ReadFile(file.string(), aiProcess_Triangulate);
    if (scene == nullptr || scene->mNumMeshes == 0) {
        throw std::runtime_error("Assimp cannot read " + file.string());
    }
    return *scene;
}

void write_stl(const aiMesh& mesh, const fs::path& path) {
    std::ofstream file(path, std::ios::binary);
    const std::string header(80, ' ');
    file.write(header.data(), 80);
    const std::uint32_t count = mesh.mNumFaces;
    file.write(reinterpret_cast<const char*>(&count), 4);
    for (unsigned f = 0; f < count; ++f) {
        float facet[12] = {};  // the normal may be zero: readers make it
        for (unsigned c = 0; c < 3; ++c) {
            const aiVector3D& at = mesh.mVertices[mesh.mFaces[f].mIndices[c]];
            facet[3 * c + 3] = at.x;
            facet[3 * c + 4] = at.y;
            facet[3 * c + 5] = at.z;
        }
        file.write(reinterpret_cast<const char*>(facet), 48);
        file.write("\0\0", 2);
    }
}

void write_obj(const aiMesh& mesh, const fs::path& path) {
    std::ofstream file(path);
    char line[128];
    for (unsigned v = 0; v < mesh.mNumVertices; ++v) {
        const aiVector3D& at = mesh.mVertices[v];
        std::snprintf(line, sizeof line, "v %.6f %.6f %.6f\n", at.x, at.y, at.z);
        file << line;
    }
    for (unsigned f = 0; f < mesh.mNumFaces; ++f) {
        const unsigned* corner = mesh.mFaces[f].mIndices;
        std::snprintf(line, sizeof line, "f %u %u %u\n", corner[0] + 1, corner[1] + 1,
                      corner[2] + 1);
        file << line;
    }
}

// The grown model in the other two formats, beside it.
std::vector<std::pair<std::string, fs::path>> files_of(const Bench& bench) {
    const fs::path ply = bench.model(bench.sizes.triangles);
    const fs::path stl = fs::path(ply).replace_extension(".stl");
    const fs::path obj = fs::path(ply).replace_extension(".obj");
    if (!fs::exists(stl) || !fs::exists(obj)) {
        child_cost([&] {
            Assimp::Importer importer;
            const aiMesh& mesh = *read(importer, ply).mMeshes[0];
            write_stl(mesh, stl);
            write_obj(mesh, obj);
        });
    }
    return {{"binary STL", stl}, {"PLY", ply}, {"OBJ", obj}};
}

Cost bare_assimp(const fs::path& file) {
    return child_cost([&] {
        Assimp::Importer importer;
        read(importer, file);
    });
}

// Both by the library's one call: with the cache's entry there, and without the cache.
Json cache_against_import(const Bench& bench, const fs::path& file) {
    return in_child([&] {
        rakelight::LoadOptions cached, cold;
        cached.cache.folder = bench.cache();
        cold.cache.use = false;
        rakelight::load_model(file, cached);
        Runs both[2];
        for (int run = 0; run < bench.sizes.runs; ++run) {
            both[0].add(cost_here([&] { rakelight::load_model(file, cached); }));
            both[1].add(cost_here([&] { rakelight::load_model(file, cold); }));
        }
        return Json{{"cached", both[0].json()}, {"import", both[1].json()}};
    });
}

}  // namespace

void measure_import(Bench& bench) {
    Table table{
        "Import, format by format",
        "Whole processes, median (least) of the runs. Bare Assimp reads and triangulates, "
        "no more; ours also mends, welds, makes normals and clusters, checks and writes the "
        "flat mesh.",
        {"format", "file", "`inspect --no-cache`", "bare Assimp", "`cat`", "our peak",
         "Assimp's peak", "flat mesh"},
        {}};
    Json data = Json::array();
    for (const auto& [format, file] : files_of(bench)) {
        const auto costs = in_turn(
            bench.sizes.runs, {[&] { return command_cost(bench.inspect(file, {"--no-cache"})); },
                               [&] { return bare_assimp(file); },
                               [&] {
                                   return command_cost({"cat", file.string()});
                               }});
        const double mib = flat_mib(bench, file);
        table.rows.push_back({format,
                              text_of(static_cast<double>(fs::file_size(file)) / 1048576.0, "MiB"),
                              time_text(costs[0]), time_text(costs[1]), time_text(costs[2]),
                              text_of(costs[0].peak_mib(), "MiB"),
                              text_of(costs[1].peak_mib(), "MiB"), text_of(mib, "MiB")});
        data.push_back({{"format", format},
                        {"ours", costs[0].json()},
                        {"assimp", costs[1].json()},
                        {"cat", costs[2].json()},
                        {"flat_mesh_mib", mib}});
        bench.report.add({"import", "cold import of " + format + " / bare Assimp",
                          costs[0].median_s() / costs[1].median_s(), "x", 1.5, false,
                          time_text(costs[0].median_s()) + " against " +
                              time_text(costs[1].median_s()) + "; " +
                              by_cpu(costs[0].median_cpu_s(), costs[1].median_cpu_s())});
        bench.report.add({"import", "peak memory of importing " + format + " / flat mesh",
                          costs[0].peak_mib() / mib, "x", std::nullopt, false,
                          text_of(costs[0].peak_mib(), "MiB") + " for " + text_of(mib, "MiB") +
                              ", the largest process; the share that does not grow included"});
    }
    const Json cache = cache_against_import(bench, bench.model(bench.sizes.triangles));
    const double import_s = cache["import"]["median_s"], cached_s = cache["cached"]["median_s"];
    bench.report.add({"import", "our import / mesh from the cache", import_s / cached_s, "x", 50.0,
                      true,
                      "`load_model` of the PLY in one process: " + time_text(import_s) +
                          " against " + time_text(cached_s)});
    bench.report.add(table);
    bench.report.keep("import", {{"formats", data}, {"cache", cache}});
}

}  // namespace bench
