/* The column of undisturbed soil of rules/site/soil.py, some rows at a time: eliminated from the bottom up, where nothing
   changes from step to step but the surface. */

#include "lanes.h"

enum { MOST_CELLS = 64 };

typedef struct { /* as rules/site/soil.py hands it over */
    int64_t rows, steps, cells, an_hour;
    const double *stores, *links;    /* (cells,): heat over a step [W/m²K], to the cell below or the bottom */
    const double *driving, *surface; /* (rows, steps) [°C], [W/m²K] */
    const double *bottom;            /* (rows, steps): heat from the bottom [W/m²] when all is at 0 °C */
    const double *first;             /* (rows, cells) */
    double *kept;                    /* (hours, rows, cells), of which the first is there */
} Task;

INLINE lanes of_step(const double *values, const int64_t *row, const Task *t, int64_t step) {
    lanes found;
    for (int i = 0; i < LANES; i++) found[i] = values[row[i] * t->steps + step];
    return found;
}

void soil(const Task *t) {
    double pivots[MOST_CELLS], inverses[MOST_CELLS], shares[MOST_CELLS];
    for (int64_t j = t->cells - 1; j >= 0; j--) {
        double below = j + 1 < t->cells ? t->links[j] * (1 - shares[j + 1]) : t->links[j];
        double above = j ? t->links[j - 1] : 0.0;
        pivots[j] = t->stores[j] + below + above;
        inverses[j] = 1 / pivots[j];
        shares[j] = above / pivots[j];
    }
    for (int64_t begin = 0; begin < t->rows; begin += LANES) {
        lanes cell[MOST_CELLS], carried[MOST_CELLS];
        int64_t row[LANES];
        int count = (int)(t->rows - begin < LANES ? t->rows - begin : LANES);
        for (int i = 0; i < LANES; i++) {
            row[i] = begin + (i < count ? i : count - 1);
            for (int64_t j = 0; j < t->cells; j++) cell[j][i] = t->first[row[i] * t->cells + j];
        }
        for (int64_t step = 0; step < t->steps; step++) {
            lanes surface = of_step(t->surface, row, t, step), heat = of_step(t->bottom, row, t, step);
            for (int64_t j = t->cells - 1; j >= 0; j--) {
                carried[j] = heat += t->stores[j] * cell[j];
                heat *= shares[j];
            }
            cell[0] = (carried[0] + surface * of_step(t->driving, row, t, step)) / (pivots[0] + surface);
            for (int64_t j = 1; j < t->cells; j++) cell[j] = carried[j] * inverses[j] + shares[j] * cell[j - 1];
            if ((step + 1) % t->an_hour) continue;
            double *into = t->kept + (step + 1) / t->an_hour * t->rows * t->cells;
            for (int i = 0; i < count; i++)
                for (int64_t j = 0; j < t->cells; j++) into[row[i] * t->cells + j] = cell[j][i];
        }
    }
}
