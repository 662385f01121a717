/* vin_repair: owns what a faulty VIN may have been. Judging is in vin.c. */
#include "core/vin.h"

/* ---- look-alikes
 * -----------------------------------------------------------------------------------------------
 */

enum {
    COST_SURE = 10,
    COST_LIKELY = 20,
    COST_LETTER_IN_SERIAL = 5,
    COST_YEAR = 6,
    COST_SWAP = 1000, /* more than any set of look-alikes: 17 x COST_LIKELY + what may be added */
    COST_OTHER = 2000,
};

static const char sure[] = "I1O0Q0S5B8Z2G6";
static const char likely[] = "D0DODQQ9QGCOL1LI71T7Z7A494383B"
                             "3556680608UVVYVWCGMNHNKXEFPR";

/* What each character may be taken for, gathered once a call: the pairs above by either end. */
enum { ALIKE_MAX = 8 };

struct alike {
    char c[ALIKE_MAX];
    unsigned char cost[ALIKE_MAX];
};

struct alikes {
    unsigned char n['Z' + 1];
    struct alike of['Z' + 1];
};

static void gather(struct alikes *a, const char *pairs, int cost)
{
    for (; pairs[0] != '\0'; pairs += 2)
        for (int end = 0; end < 2; end++) {
            unsigned from = (unsigned char)pairs[end];
            if (a->n[from] == ALIKE_MAX) /* our own table is too long; a test would miss the pair */
                continue;
            a->of[from].c[a->n[from]] = pairs[1 - end];
            a->of[from].cost[a->n[from]++] = (unsigned char)cost;
        }
}

static void gather_all(struct alikes *a)
{
    for (size_t i = 0; i < sizeof a->n; i++)
        a->n[i] = 0;
    gather(a, sure, COST_SURE);
    gather(a, likely, COST_LIKELY);
}

/* 0 when the two do not look alike. */
static int misread_cost(const struct alikes *a, char read, char other)
{
    if (read < '0' || read > 'Z')
        return 0;
    unsigned from = (unsigned char)read;
    for (int k = 0; k < a->n[from]; k++)
        if (a->of[from].c[k] == other)
            return a->of[from].cost[k];
    return 0;
}

/* ---- the list of proposals
 * ------------------------------------------------------------------------------------- */

struct list {
    const char *read; /* the VIN as read, VIN_SIZE characters */
    struct vin_repair *repairs;
    int cost[VIN_REPAIRS_MAX];
    size_t n;
};

static int habit_cost(const char *vin)
{
    int cost = 0;
    for (size_t i = 13; i < VIN_SIZE; i++)
        if (vin[i] < '0' || vin[i] > '9')
            cost += COST_LETTER_IN_SERIAL;
    char year = vin[9];
    if (year == '0' || year == 'U' || year == 'Z')
        cost += COST_YEAR;
    return cost;
}

static int compare_vins(const char *a, const char *b)
{
    size_t i = 0;
    while (i < VIN_SIZE - 1 && a[i] == b[i])
        i++;
    return a[i] - b[i];
}

static bool comes_before(int cost, const char *vin, int other_cost, const char *other)
{
    return cost < other_cost || (cost == other_cost && compare_vins(vin, other) < 0);
}

static void copy_vin(char *to, const char *vin)
{
    for (size_t i = 0; i < VIN_SIZE; i++)
        to[i] = vin[i];
    to[VIN_SIZE] = '\0';
}

static void list_add(struct list *l, const char *vin, enum vin_repair_kind kind, int cost)
{
    cost += habit_cost(vin);
    for (size_t i = 0; i < l->n; i++)
        if (compare_vins(l->repairs[i].vin, vin) == 0)
            return;
    size_t place = l->n;
    while (place > 0 && comes_before(cost, vin, l->cost[place - 1], l->repairs[place - 1].vin))
        place--;
    if (place == VIN_REPAIRS_MAX)
        return;
    if (l->n < VIN_REPAIRS_MAX)
        l->n++;
    for (size_t i = l->n - 1; i > place; i--) {
        l->repairs[i] = l->repairs[i - 1];
        l->cost[i] = l->cost[i - 1];
    }
    struct vin_repair *r = &l->repairs[place];
    copy_vin(r->vin, vin);
    r->kind = kind;
    size_t at = 0;
    while (at < VIN_SIZE - 1 && l->read[at] == vin[at])
        at++;
    r->at = (int)at + 1;
    r->was = l->read[at];
    r->now = vin[at];
    l->cost[place] = cost;
}

/* ---- proposals from the VIN alone
 * ------------------------------------------------------------------------------ */

/* What a letter that no VIN may hold is taken for; 0 for any other character. */
static char forced(char c)
{
    if (c == 'I')
        return '1';
    return c == 'O' || c == 'Q' ? '0' : '\0';
}

static int put_forced(const char *read, char *base)
{
    int n = 0;
    copy_vin(base, read);
    for (size_t i = 0; i < VIN_SIZE; i++)
        if (forced(read[i])) {
            base[i] = forced(read[i]);
            n++;
        }
    return n;
}

static void try_misreads(struct list *l, char *base, int n_forced, const struct alikes *a)
{
    for (size_t i = 0; i < VIN_SIZE; i++) {
        unsigned read = (unsigned char)l->read[i];
        if (read < '0' || read > 'Z')
            continue;
        char kept = base[i];
        /* Where a letter was forced, its other look-alikes take the place of the first. */
        int rest = (n_forced - (forced(l->read[i]) != '\0')) * COST_SURE;
        for (int k = 0; k < a->n[read]; k++) {
            if (a->of[read].c[k] == kept)
                continue;
            base[i] = a->of[read].c[k];
            if (vin_is_valid17(base)) /* which refuses I, O and Q too */
                list_add(l, base, VIN_REPAIR_MISREAD, rest + a->of[read].cost[k]);
        }
        base[i] = kept;
    }
}

static void swap(char *vin, size_t i)
{
    char c = vin[i];
    vin[i] = vin[i + 1];
    vin[i + 1] = c;
}

static void try_swaps(struct list *l, char *base)
{
    for (size_t i = 0; i + 1 < VIN_SIZE; i++) {
        if (base[i] == base[i + 1])
            continue;
        swap(base, i);
        if (vin_is_valid17(base))
            list_add(l, base, VIN_REPAIR_SWAP, COST_SWAP);
        swap(base, i);
    }
}

/* ---- proposals from a list
 * ------------------------------------------------------------------------------------- */

/* Adds known when it is near enough to base; true when it is the very VIN that was read. */
static bool try_known(struct list *l, const char *base, const char *known, int n_forced,
                      const struct alikes *a)
{
    if (compare_vins(l->read, known) == 0)
        return true;
    size_t at[2] = {0, 0}, n = 0;
    for (size_t i = 0; i < VIN_SIZE; i++) {
        if (base[i] == known[i])
            continue;
        if (n == 2)
            return false;
        at[n++] = i;
    }
    if (n == 0) {
        list_add(l, known, VIN_REPAIR_MISREAD, n_forced * COST_SURE);
    } else if (n == 1) {
        int rest = (n_forced - (forced(l->read[at[0]]) != '\0')) * COST_SURE;
        int cost = misread_cost(a, l->read[at[0]], known[at[0]]);
        if (cost > 0)
            list_add(l, known, VIN_REPAIR_MISREAD, rest + cost);
        else
            list_add(l, known, VIN_REPAIR_KNOWN, rest + COST_OTHER);
    } else if (n_forced == 0 && at[1] == at[0] + 1 && base[at[0]] == known[at[1]] &&
               base[at[1]] == known[at[0]]) {
        list_add(l, known, VIN_REPAIR_SWAP, COST_SWAP);
    }
    return false;
}

/* ---- the whole
 * -------------------------------------------------------------------------------------------------
 */

size_t vin_repair(const char *text, size_t n, const char (*known)[VIN_SIZE + 1], size_t n_known,
                  struct vin_repair *ret)
{
    struct vin_verdict verdict;
    vin_check(text, n, &verdict);
    if (verdict.fault == VIN_FAULT_NONE || verdict.fault == VIN_FAULT_LENGTH)
        return 0;
    struct list l = {.read = verdict.vin, .repairs = ret};
    char base[VIN_SIZE + 1];
    int n_forced = put_forced(verdict.vin, base);
    struct alikes alikes;
    gather_all(&alikes);
    if (known) {
        for (size_t i = 0; i < n_known; i++)
            if (try_known(&l, base, known[i], n_forced, &alikes))
                return 0;
    } else {
        if (n_forced > 0 && vin_is_valid17(base))
            list_add(&l, base, VIN_REPAIR_MISREAD, n_forced * COST_SURE);
        try_misreads(&l, base, n_forced, &alikes);
        if (n_forced == 0)
            try_swaps(&l, base);
    }
    for (size_t i = 0; i < l.n; i++)
        ret[i].rank = (int)i + 1;
    return l.n;
}
