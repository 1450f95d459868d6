/* Built for machines with AVX2 where they are x86, and asked before anything is called; others as they come. */

#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__)
#pragma GCC target("avx2")
#endif
