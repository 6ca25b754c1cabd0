#pragma once
// XXH3 with the widest vectors that the processor has, where the library chooses them while it
// runs; the values are the same. Private to model/.

#if defined(__x86_64__) && __has_include(<xxh_x86dispatch.h>)
#include <xxh_x86dispatch.h>
#else
#include <xxhash.h>
#endif
