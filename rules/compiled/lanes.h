/* Numbers of some rows side by side, reckoned with as one (vector extensions of GCC and Clang). */

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "machine.h"

enum { LANES = 4 };
typedef double lanes __attribute__((vector_size(8 * LANES)));
typedef int64_t whether __attribute__((vector_size(8 * LANES)));

#define INLINE static inline

INLINE lanes where(whether so, lanes yes, lanes no) { return (lanes)((so & (whether)yes) | (~so & (whether)no)); }

INLINE lanes positive(lanes x) { return where(x > 0, x, x - x); }

INLINE lanes root(lanes x) {
    lanes found;
    for (int i = 0; i < LANES; i++) found[i] = sqrt(x[i]);
    return found;
}

INLINE int any(whether so) {
    int64_t found = 0;
    for (int i = 0; i < LANES; i++) found |= so[i];
    return found != 0;
}

INLINE lanes gathered(const double *values, const int64_t *places) {
    lanes found;
    int run = 1;
    for (int i = 1; i < LANES; i++) run &= places[i] == places[0] + i;
    if (run) {
        memcpy(&found, values + places[0], sizeof found);
        return found;
    }
    for (int i = 0; i < LANES; i++) found[i] = values[places[i]];
    return found;
}

INLINE void scattered(lanes values, double *into, int count) {
    for (int i = 0; i < count; i++) into[i] = values[i];
}
