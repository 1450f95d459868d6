/* The march of covers through the hours: what in_arrays.py and step.py of rules/heat/marching do, eight rows at a time.

   The equations, their sources and their reasons stand there, and the tests hold one to the other. */

#include "lanes.h"

enum { MOST_NODES = 8, COLUMNS = 5, SHARES = 3 };

static const double WATER_J_KGK = 4186.0, ICE_J_KGK = 2100.0, MELT_J_KG = 334e3;
static const double STEM_M = 0.02, STEM_SUN = 0.7, STEM_EMISSIVITY = 0.95, STEM_SKY = 0.5 / 0.45, CALMEST_M_S = 0.3;
static const double ABSOLUTE_ZERO_C = -273.15, STEFAN_BOLTZMANN_W_M2_K4 = 5.670374e-8;
static const double GAMMA = 0.58578643762690497, OLD = 1.4142135623730951; /* 2 - sqrt(2), sqrt(2) */

typedef struct { /* as rules.heat.network.Network, field by field */
    lanes capacities[MOST_NODES], links[MOST_NODES], lateral[MOST_NODES];
    lanes deep, wood_j_k, wood_link_w_k, side_k_w, side_per_m2, cap_k_w, cap_per_m2, cap_emissivity, cap_convects;
    lanes top_share, side_share, mouth, unfilled_k_w, unfilled_per_m2, still_w_k, wind_w_k, buoyant_w_k, through_m2;
    lanes emissivity, sky_emissivity, wind_exposure, side_absorbed, cap_absorbed, fill_absorbed, gap_m2k_w;
    lanes sun_inside_m2, water_kg, bucket_w_k, latent[MOST_NODES];
} Network;

typedef struct { /* as rules/compiled/march.py hands it over */
    int64_t rows, hours, steps, weathers, cells, shells, unfilled;
    const double *vented, *closed;                                    /* (coefficients, rows) */
    const int64_t *states, *row_of;                                   /* (rows, hours), (rows,) */
    const double *hourly, *shares, *soil_c, *bare_c;                  /* as Forcing has them */
    const double *start_c, *start_j;                                  /* (nodes, rows), (rows,), or nothing */
    const int64_t *history_of;                                        /* (hours,): which of the marks kept, or -1 */
    double *kept, *history_c, *nodes_c, *water_j; /* (hours, 3, rows), (marks, nodes, rows), (nodes, rows), (rows,) */
} Task;

typedef struct { lanes air, radiative, wind, side_sky, side_sun, top_sky, top_sun; } Point;
typedef struct { lanes side, over, air, walls, sun; } Drive;
typedef struct { lanes side, cap, vent, through, unfilled; } Outside;
typedef struct { lanes soil[MOST_NODES], air, shell, wood; } Loads;
typedef struct {
    lanes stores[MOST_NODES], first_stores[MOST_NODES], soil_inverse[MOST_NODES], soil_share[MOST_NODES];
    lanes fill_diagonal[MOST_NODES], air_diagonal, wood_store;
} Elimination;
typedef struct { lanes inverse[MOST_NODES], share[MOST_NODES], wood_inverse, wood_share; } Pivots;
typedef struct { lanes chain[MOST_NODES], wood; } Nodes;

typedef struct { lanes early[MOST_NODES], late[MOST_NODES]; } Hour; /* values at its two marks */

typedef struct { /* some rows under way */
    const Task *task;
    int64_t row[LANES], place[LANES], first;
    int count, cells, chain;
    Network net;
    Elimination fixed;
    whether frozen[MOST_NODES];
    lanes shares[SHARES];
    Hour air, soil_c; /* of the hour under way */
    Point point;
    Drive now;
    Nodes nodes;
    lanes water_j;
} Block;

INLINE void take_marks(const Block *b, const double *values, int count, int64_t mark, lanes *into) {
    int64_t weathers = b->task->weathers;
    for (int c = 0; c < count; c++) into[c] = gathered(values + (mark * count + c) * weathers, b->place);
}

INLINE lanes at(const Hour *h, int column, double share) {
    return h->early[column] + (h->late[column] - h->early[column]) * share;
}

/* rules.heat.surroundings.points, at so much of the hour under way. */
INLINE Point point_at(const Block *b, double share) {
    const Hour *h = &b->air;
    lanes air = at(h, 0, share), kelvin = air - ABSOLUTE_ZERO_C, sun = b->shares[2];
    lanes radiative = 4 * STEFAN_BOLTZMANN_W_M2_K4 * (kelvin * kelvin * kelvin);
    lanes sky = radiative * kelvin / 4 * (1 - at(h, 2, share));
    return (Point){air, radiative, at(h, 1, share), b->shares[0] * sky, sun * at(h, 3, share),
                   b->shares[1] * sky, sun * at(h, 4, share)};
}

INLINE lanes skin_of(const Network *n, const Point *p) {
    return 1 / (4 + 4 * p->wind * n->wind_exposure + n->emissivity * p->radiative);
}

INLINE lanes over_top(const Network *n, const Point *p) {
    return 1 / ((4 + 4 * p->wind * n->wind_exposure) * n->cap_convects + n->cap_emissivity * p->radiative);
}

INLINE Drive driven(const Network *n, const Point *p) {
    lanes skin = skin_of(n, p);
    return (Drive){
        .side = p->air + (n->side_absorbed * p->side_sun - n->sky_emissivity * p->side_sky) * skin +
                n->fill_absorbed * p->side_sun * (skin + n->gap_m2k_w),
        .over = p->air + (n->cap_absorbed * p->top_sun - n->cap_emissivity * p->top_sky) * over_top(n, p),
        .air = p->air,
        .walls = p->air - p->side_sky / p->radiative,
        .sun = n->sun_inside_m2 * p->side_sun,
    };
}

INLINE Drive halfway(const Drive *a, const Drive *b) {
    return (Drive){(a->side + b->side) * 0.5, (a->over + b->over) * 0.5, (a->air + b->air) * 0.5,
                   (a->walls + b->walls) * 0.5, (a->sun + b->sun) * 0.5};
}

INLINE Outside outside_of(const Block *b, const Point *p) {
    const Network *n = &b->net;
    lanes skin = skin_of(n, p), warmer_c = b->nodes.chain[b->cells] - p->air, none = skin - skin;
    return (Outside){
        .side = 1 / (n->side_k_w + skin * n->side_per_m2),
        .cap = 1 / (n->cap_k_w + over_top(n, p) * n->cap_per_m2),
        .vent = n->still_w_k + n->wind_w_k * p->wind + n->buoyant_w_k * root(positive(warmer_c)),
        .through = n->through_m2 * p->radiative,
        .unfilled = b->task->unfilled ? 1 / (n->unfilled_k_w + skin * n->unfilled_per_m2) : none,
    };
}

INLINE void load(const Block *b, const Outside *o, const Drive *d, double share, lanes bucket_w, Loads *into) {
    const Network *n = &b->net;
    for (int j = 0; j < b->cells; j++) into->soil[j] = n->lateral[j] * at(&b->soil_c, j, share);
    into->soil[0] += n->deep * at(&b->soil_c, b->cells, share);
    into->soil[b->cells - 1] += 0.3 * d->sun;
    into->air = o->cap * d->over + o->vent * d->air + o->unfilled * d->side + o->through * d->walls + 0.3 * d->sun;
    into->air += bucket_w;
    into->shell = o->side * d->side;
    into->wood = o->through * d->walls + 0.4 * d->sun;
}

/* The step-independent half of the elimination, with the latent heat of the cells that freeze. */
INLINE void eliminate(Block *b) {
    const Network *n = &b->net;
    Elimination *f = &b->fixed;
    double stage_s = GAMMA * 3600.0 / b->task->steps / 2, first_stage = 2 / (GAMMA * (2 - GAMMA));
    int cells = b->cells;
    for (int j = 0; j < b->chain; j++) {
        lanes latent = n->latent[j] - n->latent[j];
        if (j < cells) latent = where(b->frozen[j], n->latent[j] / stage_s, latent);
        f->stores[j] = n->capacities[j] / stage_s + latent;
        f->first_stores[j] = first_stage * f->stores[j];
    }
    for (int j = 0; j < cells; j++) {
        lanes below = j ? n->links[j - 1] * (1 - f->soil_share[j - 1]) : n->deep;
        f->soil_inverse[j] = 1 / (f->stores[j] + n->links[j] + n->lateral[j] + below);
        f->soil_share[j] = n->links[j] * f->soil_inverse[j];
    }
    f->air_diagonal = f->stores[cells] + n->links[cells - 1] * (1 - f->soil_share[cells - 1]) + n->links[cells];
    f->air_diagonal += n->wood_link_w_k;
    for (int j = cells + 1; j < b->chain; j++) {
        f->fill_diagonal[j] = f->stores[j] + n->links[j - 1];
        if (j + 1 < b->chain) f->fill_diagonal[j] += n->links[j];
    }
    f->wood_store = n->wood_j_k / stage_s;
}

INLINE void freeze(Block *b) {
    whether changed = {0};
    for (int j = 0; j < b->cells; j++) {
        whether freezes = (b->nodes.chain[j] > -1) & (b->nodes.chain[j] < 0) & (b->net.latent[0] > 0);
        changed |= freezes ^ b->frozen[j];
        b->frozen[j] = freezes;
    }
    if (any(changed)) eliminate(b);
}

INLINE void factor(const Block *b, const Outside *o, Pivots *p) {
    const Elimination *f = &b->fixed;
    const Network *n = &b->net;
    p->wood_inverse = 1 / (f->wood_store + n->wood_link_w_k + o->through);
    p->wood_share = n->wood_link_w_k * p->wood_inverse;
    for (int j = 0; j < b->cells; j++) p->inverse[j] = f->soil_inverse[j], p->share[j] = f->soil_share[j];
    lanes air = f->air_diagonal + o->cap + o->vent + o->through + (o->unfilled + n->bucket_w_k);
    p->inverse[b->cells] = 1 / (air - n->wood_link_w_k * p->wood_share);
    for (int j = b->cells + 1; j < b->chain; j++) {
        p->share[j - 1] = n->links[j - 1] * p->inverse[j - 1];
        lanes rest = f->fill_diagonal[j] - n->links[j - 1] * p->share[j - 1];
        p->inverse[j] = 1 / (j + 1 == b->chain ? rest + o->side : rest);
    }
}

INLINE void solve(const Block *b, const Pivots *p, const lanes *held, lanes held_wood, const Loads *more, Nodes *into) {
    lanes below[MOST_NODES], carried = held[0] - held[0];
    int last = b->chain - 1;
    lanes wood = held_wood + more->wood;
    for (int j = 0; j <= last; j++) {
        lanes right = held[j];
        if (j < b->cells) right += more->soil[j];
        if (j == b->cells) right += more->air;
        if (j == last) right += more->shell;
        if (j) right += p->share[j - 1] * carried;
        if (j == b->cells) right += p->wood_share * wood;
        below[j] = carried = right;
    }
    into->chain[last] = carried * p->inverse[last];
    for (int j = last - 1; j >= 0; j--) into->chain[j] = below[j] * p->inverse[j] + p->share[j] * into->chain[j + 1];
    into->wood = wood * p->wood_inverse + p->wood_share * into->chain[b->cells];
}

/* Both stages of TR-BDF2, for which stage one is solved for its mean. */
INLINE void advance(Block *b, const Pivots *p, const Loads *mean_loads, const Loads *end_loads) {
    const Elimination *f = &b->fixed;
    double first_stage = 2 / (GAMMA * (2 - GAMMA));
    lanes held[MOST_NODES], old[MOST_NODES], held_wood = f->wood_store * b->nodes.wood;
    for (int j = 0; j < b->chain; j++) held[j] = f->stores[j] * b->nodes.chain[j];
    Nodes mean;
    solve(b, p, held, held_wood, mean_loads, &mean);
    for (int j = 0; j < b->chain; j++) old[j] = f->first_stores[j] * mean.chain[j] - OLD * held[j];
    solve(b, p, old, first_stage * f->wood_store * mean.wood - OLD * held_wood, end_loads, &b->nodes);
}

INLINE lanes bucket_c(lanes water_j, lanes water_kg) {
    lanes mass = water_kg + 1e-9, warm = positive(water_j), below = water_j - warm + MELT_J_KG * mass;
    return warm / (WATER_J_KGK * mass) - positive(-below) / (ICE_J_KGK * mass);
}

INLINE void step(Block *b, int64_t number) {
    double steps = (double)b->task->steps, begins = (double)number;
    Point at_gamma = point_at(b, (begins + GAMMA) / steps), middle = point_at(b, (begins + 0.5) / steps);
    b->point = point_at(b, (begins + 1) / steps);
    if (any(b->net.latent[0] > 0)) freeze(b);
    Drive early = driven(&b->net, &at_gamma), mean = halfway(&b->now, &early), end = driven(&b->net, &b->point);
    Outside outside = outside_of(b, &middle);
    int wet = any(b->net.water_kg > 0);
    lanes bucket = wet ? bucket_c(b->water_j, b->net.water_kg) : b->water_j, bucket_w = b->net.bucket_w_k * bucket;
    Loads mean_loads, end_loads;
    load(b, &outside, &mean, (begins + GAMMA / 2) / steps, bucket_w, &mean_loads);
    load(b, &outside, &end, (begins + 1) / steps, bucket_w, &end_loads);
    Pivots pivots;
    factor(b, &outside, &pivots);
    advance(b, &pivots, &mean_loads, &end_loads);
    b->water_j += 3600.0 / steps * b->net.bucket_w_k * (b->nodes.chain[b->cells] - bucket);
    b->now = end;
}

INLINE whether bare_at(const Block *b, int64_t hour) {
    whether found;
    for (int i = 0; i < LANES; i++) found[i] = -(b->task->states[b->row[i] * b->task->hours + hour] == 0);
    return found;
}

INLINE int all(whether so) { return !any(~so); }

/* The networks of the states of an hour, where any differs from those of the hour before. */
INLINE void take_states(Block *b, int64_t hour) {
    const Task *t = b->task;
    int same = hour > 0;
    for (int i = 0; same && i < LANES; i++) {
        const int64_t *state = t->states + b->row[i] * t->hours + hour;
        same = state[0] == state[-1];
    }
    if (same) return;
    lanes *into = (lanes *)&b->net;
    for (int i = 0; i < LANES; i++) {
        const double *from = t->states[b->row[i] * t->hours + hour] == 1 ? t->vented : t->closed;
        for (int c = 0; c < (int)(sizeof(Network) / sizeof(lanes)); c++) into[c][i] = from[c * t->rows + b->row[i]];
    }
    for (int j = 0; j < b->cells; j++) b->frozen[j] = (whether){0};
    eliminate(b);
    b->now = driven(&b->net, &b->point);
}

INLINE lanes fresh_water_j(const Block *b) {
    return WATER_J_KGK * b->net.water_kg * (0.5 + positive(b->nodes.chain[b->cells] - 0.5));
}

INLINE void uncover(Block *b, int64_t mark, whether bare) {
    const Task *t = b->task;
    if (!any(bare)) return;
    for (int j = 0; j < b->chain; j++) {
        lanes out = b->point.air;
        if (j < b->cells) out = gathered(t->soil_c + (mark * (b->cells + 1) + j) * t->weathers, b->place);
        b->nodes.chain[j] = where(bare, out, b->nodes.chain[j]);
    }
    b->nodes.wood = where(bare, gathered(t->bare_c + mark * t->weathers, b->place), b->nodes.wood);
    b->water_j = where(bare, fresh_water_j(b), b->water_j);
}

/* heat.march.open_tip_c, with the excess of a thin stem as heat.surroundings has it. */
INLINE lanes open_tip_c(const Point *p, lanes inside_c, lanes mouth) {
    lanes reynolds = (CALMEST_M_S + positive(mouth * p->wind - CALMEST_M_S)) * STEM_M / 1.33e-5;
    lanes convective = (0.024 / STEM_M) * (0.3 + 0.62 * root(reynolds) * 0.89 / 1.14);
    lanes gained_w = STEM_SUN * p->side_sun - STEM_SKY * STEM_EMISSIVITY * p->side_sky;
    return inside_c + mouth * (p->air - inside_c) + mouth * gained_w / (convective + STEM_EMISSIVITY * p->radiative);
}

INLINE void keep(Block *b, int64_t mark) {
    const Task *t = b->task;
    double *kept = t->kept + mark * 3 * t->rows + b->first;
    const Network *n = &b->net;
    lanes wood = b->nodes.wood;
    lanes top = wood + n->top_share * (b->now.over - wood) + n->side_share * (b->now.side - wood);
    if (any(n->mouth > 0)) top = where(n->mouth > 0, open_tip_c(&b->point, b->nodes.chain[b->cells], n->mouth), top);
    whether bare = bare_at(b, mark) | bare_at(b, mark ? mark - 1 : 0);
    scattered(wood, kept, b->count);
    scattered(where(bare, wood, top), kept + t->rows, b->count);
    scattered(b->nodes.chain[b->cells], kept + 2 * t->rows, b->count);
    if (t->history_of[mark] < 0) return;
    double *into = t->history_c + t->history_of[mark] * (b->chain + 1) * t->rows + b->first;
    for (int j = 0; j < b->chain; j++) scattered(b->nodes.chain[j], into + j * t->rows, b->count);
    scattered(wood, into + b->chain * t->rows, b->count);
}

/* What the rows hold at the first mark: the air and the undisturbed soil, unless it is told. */
INLINE void begin(Block *b) {
    const Task *t = b->task;
    whether every = {0};
    take_marks(b, t->shares, SHARES, 0, b->shares);
    take_marks(b, t->hourly, COLUMNS, 0, b->air.late);
    take_marks(b, t->soil_c, b->cells + 1, 0, b->soil_c.late);
    memcpy(b->air.early, b->air.late, sizeof b->air.early);
    b->point = point_at(b, 1);
    take_states(b, 0);
    uncover(b, 0, ~every);
    b->nodes.wood = b->point.air;
    for (int j = 0; t->start_c && j < b->chain; j++) b->nodes.chain[j] = gathered(t->start_c + j * t->rows, b->row);
    if (t->start_c) b->nodes.wood = gathered(t->start_c + b->chain * t->rows, b->row);
    b->water_j = t->start_j ? gathered(t->start_j, b->row) : fresh_water_j(b);
    uncover(b, 0, bare_at(b, 0));
    keep(b, 0);
}

INLINE void next_hour(Block *b, int64_t mark) {
    memcpy(b->air.early, b->air.late, sizeof b->air.early);
    memcpy(b->soil_c.early, b->soil_c.late, sizeof b->soil_c.early);
    take_marks(b, b->task->hourly, COLUMNS, mark, b->air.late);
    take_marks(b, b->task->soil_c, b->cells + 1, mark, b->soil_c.late);
}

INLINE void march_block(Block *b) {
    const Task *t = b->task;
    begin(b);
    for (int64_t hour = 0; hour + 1 < t->hours; hour++) {
        take_states(b, hour);
        whether bare = bare_at(b, hour);
        next_hour(b, hour + 1);
        if (all(bare)) {
            b->point = point_at(b, 1);
        } else {
            for (int64_t number = 0; number < t->steps; number++) step(b, number);
        }
        uncover(b, hour + 1, bare | bare_at(b, hour + 1));
        keep(b, hour + 1);
    }
    for (int j = 0; j < b->chain; j++) scattered(b->nodes.chain[j], t->nodes_c + j * t->rows + b->first, b->count);
    scattered(b->nodes.wood, t->nodes_c + b->chain * t->rows + b->first, b->count);
    scattered(b->water_j, t->water_j + b->first, b->count);
}

void march(const Task *task) {
    for (int64_t first = 0; first < task->rows; first += LANES) {
        Block b = {.task = task, .first = first, .cells = (int)task->cells};
        b.chain = (int)(task->cells + task->shells) + 1;
        b.count = (int)(task->rows - first < LANES ? task->rows - first : LANES);
        for (int i = 0; i < LANES; i++) { /* the last row again where fewer are left */
            b.row[i] = first + (i < b.count ? i : b.count - 1);
            b.place[i] = task->row_of[b.row[i]];
        }
        march_block(&b);
    }
}
