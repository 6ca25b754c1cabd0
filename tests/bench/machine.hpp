#pragma once
// What the figures were measured on.

#include "measuring.hpp"

namespace bench {

/// Processor, cores, memory, system, compiler, libraries, driver and how busy the machine is now.
Json machine_facts();

}  // namespace bench
