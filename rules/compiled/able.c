/* Whether this machine can run what was built: itself built for any, so asked first. */

int able(void) {
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__)
    return __builtin_cpu_supports("avx2") != 0; /* see machine.h */
#else
    return 1;
#endif
}

/* The CRC-32 of the sources, see .ci/compile. */
unsigned stamp(void) {
    return STAMP;
}
