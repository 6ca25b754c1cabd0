#include <doctest/doctest.h>

#include <random>
#include <thread>
#include <vector>

#include "model/soup.hpp"

using namespace rakelight;

namespace {

// Fills, grows, moves and frees arrays of all sizes around that where pages begin to be moved, and
// looks whether each still holds what was put into it.
std::size_t count_damaged(unsigned seed) {
    std::mt19937 random(seed);
    std::vector<Array<std::uint32_t>> arrays(12);
    std::vector<std::uint32_t> marks(arrays.size(), 0);
    std::size_t damaged = 0;
    for (std::uint32_t round = 1; round < 250; ++round) {
        const std::size_t which = random() % arrays.size();
        Array<std::uint32_t>& array = arrays[which];
        for (std::size_t i = 0; i < array.size(); i += 509)
            damaged += array[i] != marks[which] + static_cast<std::uint32_t>(i);
        if (random() % 4 == 0) {
            drop(array);
            continue;
        }
        if (random() % 3 == 0) drop(array);
        marks[which] = round * 7919u + seed;
        array.resize(random() % (4u << 20));
        for (std::size_t i = 0; i < array.size(); ++i)
            array[i] = marks[which] + static_cast<std::uint32_t>(i);
    }
    return damaged;
}

}  // namespace

TEST_CASE("arrays keep what they hold while the pages of others come and go") {
    CHECK(count_damaged(1) == 0);
    std::vector<std::size_t> damaged(3, 1);
    {
        std::vector<std::jthread> threads;
        for (unsigned i = 0; i < 3; ++i)
            threads.emplace_back([&damaged, i] { damaged[i] = count_damaged(i + 2); });
    }
    CHECK(damaged == std::vector<std::size_t>(3, 0));
}

TEST_CASE("dropping an array frees it") {
    Array<std::uint64_t> array(1000);
    drop(array);
    CHECK(array.capacity() == 0);
}
