#pragma once
// What a piece of work costs: wall time, processor time and peak memory, several runs of it.

#include <functional>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

namespace bench {

using Json = nlohmann::ordered_json;
using Words = std::vector<std::string>;

/// One run of something.
struct Cost {
    double wall_s = 0.0;
    double cpu_s = 0.0;     ///< user and system, of all threads and children
    double peak_mib = 0.0;  ///< of the largest process, resident; 0: not measured
};

/// Several runs of the same.
class Runs {
public:
    void add(const Cost& cost) { costs_.push_back(cost); }
    std::size_t count() const { return costs_.size(); }
    double median_s() const;
    double least_s() const;
    double median_cpu_s() const;
    double peak_mib() const;  ///< the largest
    Json json() const;

private:
    std::vector<Cost> costs_;
};

using Measured = std::function<Cost()>;

/// Runs each once, then each again and so on, so that whatever else the machine does falls on all
/// of them alike and their ratios stay fair.
/// @param runs  rounds, > 0
std::vector<Runs> in_turn(int runs, const std::vector<Measured>& works);

/// Runs a command with its stdout thrown away. Throws std::runtime_error when it fails.
/// @param words  the program's path and its arguments
Cost command_cost(const Words& words);
/// What a command writes to stdout. Throws as command_cost.
std::string command_output(const Words& words);

/// The same for work in a child process of its own, so that its memory is its own.
Cost child_cost(const std::function<void()>& work);
/// Work in this process; without its memory.
Cost cost_here(const std::function<void()>& work);

/// Does the work in a child process and hands its answer back: what it holds, its threads and its
/// graphics driver end with it. Throws std::runtime_error with what the work threw.
Json in_child(const std::function<Json()>& work);

}  // namespace bench
