#pragma once
// Private to render/: how the passes on the processor get wide vector code without demanding it.
// A kernel is written once, as an always-inlined function over blocks of pixels, and is compiled
// twice: plainly, and for AVX2. Neither fuses nor reorders operations, so both give the same bytes.

#if defined(__x86_64__) && (defined(__GNUC__) || defined(__clang__))
#define RAKELIGHT_HAS_WIDE_KERNELS
#define RAKELIGHT_WIDE __attribute__((target("avx2")))
#endif

#if defined(__GNUC__) || defined(__clang__)
#define RAKELIGHT_KERNEL __attribute__((always_inline)) inline
#else
#define RAKELIGHT_KERNEL inline
#endif

namespace rakelight {

/// Whether this machine runs what RAKELIGHT_WIDE was compiled for.
inline bool has_wide_kernels() {
#ifdef RAKELIGHT_HAS_WIDE_KERNELS
    return __builtin_cpu_supports("avx2") != 0;
#else
    return false;
#endif
}

}  // namespace rakelight
