// Compiles a function twice, for any x86-64 and for one with 256-bit vectors; the machine's own is taken when the
// program starts. For plain loops over arrays that take much of the time. The answers are the same bit for bit: no
// fused multiply-add.
#pragma once

#if defined(__GNUC__) && !defined(__clang__) && defined(__x86_64__) && !defined(__SANITIZE_ADDRESS__) && \
    !defined(__SANITIZE_THREAD__)
#define HOOKLINE_WIDE_CODE __attribute__((target_clones("avx2", "default")))
#else
#define HOOKLINE_WIDE_CODE  // clang 14 has no way to do it; sanitizers start before the choice is made
#endif
