// Values that wait, in memory and in a file: what comes back is what went in.

#include <doctest/doctest.h>

#include <cmath>
#include <filesystem>
#include <limits>

#include "error.hpp"
#include "image/kept_values.hpp"

using namespace rakelight;

namespace {

std::vector<float> read_all(KeptValues& kept, std::size_t at_a_time) {
    std::vector<float> all;
    kept.read(at_a_time, [&](std::span<const float> values) {
        CHECK(values.size() <= at_a_time);
        all.insert(all.end(), values.begin(), values.end());
    });
    return all;
}

}  // namespace

TEST_CASE("kept values come back in order, from memory or from a file without a name") {
    const auto folder = std::filesystem::temp_directory_path() / "rakelight-kept-values";
    std::filesystem::create_directories(folder);
    std::vector<float> expected;
    for (int i = 0; i < 1000; ++i) expected.push_back(std::sin(static_cast<float>(i)));
    expected[500] = -std::numeric_limits<float>::infinity();
    for (const std::size_t in_memory : {2000U, 1000U, 999U, 100U, 0U}) {
        CAPTURE(in_memory);
        KeptValues kept(folder, in_memory);
        const std::span<const float> all(expected);
        kept.append(all.first(300));
        kept.append({});
        kept.append(all.subspan(300));
        CHECK(std::filesystem::is_empty(folder));
        CHECK(read_all(kept, 64) == expected);
        CHECK(read_all(kept, 5000) == expected);
    }
    std::filesystem::remove_all(folder);
}

TEST_CASE("a folder that is not there is said, when a file is needed") {
    KeptValues kept("/nowhere/at/all", 2);
    kept.append(std::vector<float>{1.0F, 2.0F});
    CHECK(read_all(kept, 8).size() == 2);
    try {
        kept.append(std::vector<float>{3.0F});
        FAIL("nothing was thrown");
    } catch (const Error& error) {
        CHECK(error.code() == ExitCode::not_written);
        CHECK(std::string(error.what()).find("/nowhere/at/all") != std::string::npos);
    }
}
