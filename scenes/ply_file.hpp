// Writes a mesh as a binary little-endian PLY.
#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "tube_mesh.hpp"

// The file appears whole or not at all; throws std::runtime_error that says what went wrong.
void write_ply(const std::filesystem::path& path, const Mesh& mesh,
               const std::vector<std::string>& comments);
