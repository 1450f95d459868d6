/* The beam of rules/plan/search.py, one tree, member and first act after the other: the same in numbers of single
   precision, so to some 1e-5 trips, with the same choice among courses of the same cost.

   A course's eight nodes lie in one run of numbers, and so do the courses of one state. */

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "machine.h"

enum { NODES = 8, WIDE = 8, MOST_STATES = 4, MOST_SLOTS = 64 };
typedef float eight __attribute__((vector_size(4 * WIDE)));
typedef int32_t whether __attribute__((vector_size(4 * WIDE)));

static const float NEVER = INFINITY, NO_FROST_C = -0.5f, TIP_SHARE = 0.2f, REPEAT_SHARE = 0.05f, FARTHEST_Z = 38.0f;

typedef struct { /* as rules/compiled/search.py hands it over; the arrays are those of Stakes */
    int64_t trees, members, slots, states, beam, settled, offs, levels;
    const float *middle_c, *tip_c, *standing_cost;                    /* (trees, members, slots, states) */
    const float *nodes_c;                                             /* (trees, members, slots, states, nodes) */
    const float *fades;                                               /* (trees, slots, states, from, into) */
    const float *tissue;                                              /* (trees, slots, states, nodes) */
    const float *tip_keeps;                                           /* (trees, states) */
    const float *lt50_c;                                              /* (trees, slots) */
    const float *softens_c, *width_c, *unforeseen_c;                  /* (trees, slots, states) */
    const float *work;                                                /* (trees, slots, from, to) */
    const float *worth, *lost, *tail_off_c;                           /* (trees,) */
    const float *tail, *off_c;                                        /* (trees, states, offs, levels), (offs,) */
    const int64_t *state, *prefix;                                    /* (trees,), (trees, settled) */
    const float *visits;                                              /* (trees, members, slots) */
    float *cost, *lost_after;                                         /* (trees, members, acts) */
    int64_t *course;                                                  /* (trees, members, acts, slots) */
} Task;

typedef struct { /* the courses in one state */
    eight cost, lost, softer_c, moved_c[WIDE];
} Kept;

typedef struct { /* where the search of one tree, member and first act stands */
    const Task *task;
    int64_t tree, member, act;
    Kept *kept, *before, both[2][MOST_STATES]; /* now, and at the last slot */
    uint8_t parents[MOST_SLOTS][MOST_STATES][WIDE];
} Beam;

static inline eight where(whether so, eight yes, eight no) {
    return (eight)((so & (whether)yes) | (~so & (whether)no));
}
static inline eight least(eight a, eight b) { return where(a < b, a, b); }
static inline eight most(eight a, eight b) { return where(a > b, a, b); }
static inline eight same(float value) { return value - (eight){0}; }

static inline eight loaded(const float *values) {
    eight found;
    memcpy(&found, values, sizeof found);
    return found;
}

static inline int any(whether so) {
    int32_t found = 0;
    for (int i = 0; i < WIDE; i++) found |= so[i];
    return found != 0;
}

/* e to a power of 0 or less, right to the last bit or two: halves of it from a series, whole powers of 2 by their bits. */
static inline eight exponential(eight x) {
    eight far = most(x, same(-87.0f)), turns = far * 1.44269504f - 0.5f;
    whether whole = __builtin_convertvector(turns, whether);
    eight rest = far - __builtin_convertvector(whole, eight) * 0.693359375f;
    rest -= __builtin_convertvector(whole, eight) * -2.12194440e-4f;
    eight series = same(1.9875691500e-4f);
    series = series * rest + 1.3981999507e-3f;
    series = series * rest + 8.3334519073e-3f;
    series = series * rest + 4.1665795894e-2f;
    series = series * rest + 1.6666665459e-1f;
    series = series * rest + 5.0000001201e-1f;
    series = series * rest * rest + rest + 1.0f;
    return where(x < -87.0f, same(0.0f), series * (eight)((whole + 127) << 23));
}

/* rules.wood.injury.normal_share */
static inline eight normal_share(eight z) {
    eight away = least(most(z, -z), same(FARTHEST_Z)), t = 1.0f / (away * 0.2316419f + 1.0f);
    eight tail = t * 1.330274429f;
    tail = (tail - 1.821255978f) * t;
    tail = (tail + 1.781477937f) * t;
    tail = (tail - 0.356563782f) * t;
    tail = (tail + 0.319381530f) * t;
    tail *= exponential(away * away * -0.5f) * 0.3989422804f;
    return where(z > 0.0f, 1.0f - tail, tail);
}

static inline eight harm_at(eight lt50_c, float width_c, eight tissue_c) {
    eight frozen = least(most(NO_FROST_C - tissue_c, same(0.0f)), same(1.0f));
    return normal_share((lt50_c - tissue_c) / width_c) * frozen;
}

/* rules.wood.night_losses.harm_of */
static inline eight harm_of(eight lt50_c, float width_c, eight middle_c, eight tip_c) {
    return (1.0f - TIP_SHARE) * harm_at(lt50_c, width_c, middle_c) + TIP_SHARE * harm_at(lt50_c, width_c, tip_c);
}

static inline eight lost_together(eight before, eight tonight) {
    eight more = most(before, tonight), less = least(before, tonight);
    return more + REPEAT_SHARE * less * (1.0f - more);
}

/* The cheapest ways into one state: which courses they come from, cheapest first, of equal ones the earlier. */
static inline void cheapest(const Beam *b, int64_t slot, int into, float *costs, uint8_t *from) {
    const Task *t = b->task;
    int count = 0, beam = (int)t->beam;
    const float *work = t->work + (b->tree * t->slots + slot) * t->states * t->states + into;
    float visit = slot > t->settled ? t->visits[(b->tree * t->members + b->member) * t->slots + slot] : 0.0f;
    for (int state = 0; state < t->states; state++) {
        float price = work[state * t->states] + (state == into ? 0.0f : visit);
        for (int i = 0; i < beam; i++) {
            float cost = b->before[state].cost[i] + price;
            if (cost == NEVER || (count == beam && !(cost < costs[beam - 1]))) continue;
            int at = count < beam ? count++ : beam - 1;
            for (; at > 0 && cost < costs[at - 1]; at--) costs[at] = costs[at - 1], from[at] = from[at - 1];
            costs[at] = cost, from[at] = (uint8_t)(state * WIDE + i);
        }
    }
    for (; count < WIDE; count++) costs[count] = NEVER;
}

static inline int may_be(const Beam *b, int64_t slot, int state) {
    const Task *t = b->task;
    if (slot < t->settled) return t->prefix[b->tree * t->settled + slot] == state;
    return slot > t->settled || b->act == state;
}

/* Every course goes on in every state; the best few per state stay. */
static inline void branch(Beam *b, int64_t slot) {
    const Task *t = b->task;
    const float *nodes_c = t->nodes_c + ((b->tree * t->members + b->member) * t->slots + slot) * t->states * NODES;
    Kept *last = b->before;
    b->before = b->kept, b->kept = last;
    for (int into = 0; into < t->states; into++) {
        uint8_t *from = b->parents[slot][into];
        float costs[WIDE];
        Kept *kept = &b->kept[into];
        kept->cost = same(NEVER), kept->lost = kept->softer_c = same(0.0f);
        memset(from, 0, WIDE);
        if (!may_be(b, slot, into)) continue;
        cheapest(b, slot, into, costs, from);
        kept->cost = loaded(costs);
        eight own_c = loaded(nodes_c + into * NODES);
        for (int i = 0; i < t->beam && costs[i] != NEVER; i++) {
            const Kept *one = &b->before[from[i] / WIDE];
            int course = from[i] % WIDE;
            kept->lost[i] = one->lost[course];
            kept->softer_c[i] = one->softer_c[course];
            kept->moved_c[i] = loaded(nodes_c + from[i] / WIDE * NODES) + one->moved_c[course] - own_c;
        }
    }
}

/* Live through the hours to the next slot: injury, holding cost, and what is left of the difference. */
static inline void feel(Beam *b, int64_t slot, int state) {
    const Task *t = b->task;
    Kept *kept = &b->kept[state];
    int64_t at = (b->tree * t->slots + slot) * t->states + state;
    int64_t own = ((b->tree * t->members + b->member) * t->slots + slot) * t->states + state;
    eight reads = loaded(t->tissue + at * NODES), moved = {0};
    for (int i = 0; i < t->beam && kept->cost[i] != NEVER; i++) {
        eight felt = kept->moved_c[i] * reads;
        moved[i] = ((felt[0] + felt[4]) + (felt[1] + felt[5])) + ((felt[2] + felt[6]) + (felt[3] + felt[7]));
    }
    eight middle_c = t->middle_c[own] + moved, tip_c = t->tip_c[own] + moved * t->tip_keeps[b->tree * t->states + state];
    eight half_c = t->lt50_c[b->tree * t->slots + slot] + kept->softer_c, lost = kept->lost;
    float by = t->unforeseen_c[at], width_c = t->width_c[at];
    if (any(least(middle_c, tip_c) - by < NO_FROST_C)) { /* else nothing is lost at all */
        eight colder = harm_of(half_c, width_c, middle_c - by, tip_c - by);
        eight milder = harm_of(half_c, width_c, middle_c + by, tip_c + by);
        lost = (lost_together(kept->lost, colder) + lost_together(kept->lost, milder)) / 2.0f;
    }
    kept->cost += t->worth[b->tree] * (lost - kept->lost) + t->standing_cost[own];
    kept->lost = lost;
    kept->softer_c += t->softens_c[at];
    const float *fades = t->fades + at * NODES * NODES;
    for (int i = 0; i < t->beam && kept->cost[i] != NEVER; i++) {
        eight left = {0};
        for (int j = 0; j < NODES; j++) left += kept->moved_c[i][j] * loaded(fades + j * NODES);
        kept->moved_c[i] = left;
    }
}

/* rules.plan.stakes.tail_of for one course */
static inline float tail_of(const Beam *b, int state, float softer_c, float lost) {
    const Task *t = b->task;
    int offs = (int)t->offs, levels = (int)t->levels, row = 0;
    float off_c = softer_c + t->tail_off_c[b->tree];
    off_c = off_c < t->off_c[0] ? t->off_c[0] : off_c > t->off_c[offs - 1] ? t->off_c[offs - 1] : off_c;
    while (row < offs - 2 && off_c >= t->off_c[row + 1]) row++;
    float between = (off_c - t->off_c[row]) / (t->off_c[row + 1] - t->off_c[row]);
    float grade = (lost < 0.0f ? 0.0f : lost > 1.0f ? 1.0f : lost) * (float)(levels - 1);
    int low = (int)grade < levels - 2 ? (int)grade : levels - 2;
    const float *here = t->tail + ((b->tree * t->states + state) * offs + row) * levels + low, *there = here + levels;
    float share = grade - (float)low, a = (1.0f - share) * here[0] + share * here[1];
    return a + between * ((1.0f - share) * there[0] + share * there[1] - a);
}

/* The cheapest course, and the states it went through, read back from the last slot. */
static inline void best(const Beam *b) {
    const Task *t = b->task;
    int state = 0, course = 0;
    float least_cost = NEVER;
    for (int s = 0; s < t->states; s++) {
        for (int i = 0; i < t->beam; i++) {
            float cost = b->kept[s].cost[i];
            if (cost == NEVER) continue;
            cost += tail_of(b, s, b->kept[s].softer_c[i], b->kept[s].lost[i]);
            if (cost < least_cost) least_cost = cost, state = s, course = i;
        }
    }
    int64_t at = (b->tree * t->members + b->member) * t->states + b->act;
    t->cost[at] = least_cost;
    t->lost_after[at] = b->kept[state].lost[course];
    for (int64_t slot = t->slots - 1; slot >= 0; slot--) {
        t->course[at * t->slots + slot] = state;
        int from = b->parents[slot][state][course];
        state = from / WIDE, course = from % WIDE;
    }
}

void search(const Task *task) {
    Beam b = {.task = task};
    b.kept = b.both[0], b.before = b.both[1];
    for (b.tree = 0; b.tree < task->trees; b.tree++) {
        for (b.member = 0; b.member < task->members; b.member++) {
            for (b.act = 0; b.act < task->states; b.act++) {
                for (int state = 0; state < task->states; state++) {
                    memset(&b.kept[state], 0, sizeof b.kept[state]);
                    b.kept[state].cost = same(NEVER), b.kept[state].lost = same(task->lost[b.tree]);
                }
                b.kept[task->state[b.tree]].cost[0] = 0.0f;
                for (int64_t slot = 0; slot < task->slots; slot++) {
                    branch(&b, slot);
                    for (int state = 0; state < task->states; state++)
                        if (b.kept[state].cost[0] != NEVER) feel(&b, slot, state);
                }
                best(&b);
            }
        }
    }
}
