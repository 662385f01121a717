/* test_vin: check digit, model years and repairs of VINs. Rows with sources are in test/tables/vin.tsv
 * and vin_repair.tsv. */
#include "core/vin.h"
#include "table.h"
#include "tap.h"

static const unsigned long long SEED = 20260313;
static const char legal[] = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ";

/* ---- rows -------------------------------------------------------------------------------------- */

static void show_years(const struct vin_verdict *v, char *buf, size_t room)
{
    snprintf(buf, room, "-");
    if (v->n_years == 2)
        snprintf(buf, room, "%d,%d", v->years[0], v->years[1]);
}

static void check_table(void)
{
    struct table t;
    table_open(&t, "vin.tsv");
    while (table_next(&t, 5)) {
        struct vin_verdict v;
        char years[40];
        vin_check(t.cells[0], strlen(t.cells[0]), &v);
        const char *fault = vin_fault_name(v.fault) ? vin_fault_name(v.fault) : "-";
        const char expected = v.check_expected ? v.check_expected : '-';
        show_years(&v, years, sizeof years);
        if (!tap_ok(strcmp(fault, t.cells[1]) == 0, "%s: fault %s (%s)", t.cells[0], t.cells[1],
                    t.cells[4]))
            tap_note("found %s", fault);
        if (!tap_ok(expected == t.cells[2][0], "%s: check digit asked for is %s (%s)", t.cells[0],
                    t.cells[2], t.cells[4]))
            tap_note("found %c", expected);
        if (!tap_ok(strcmp(years, t.cells[3]) == 0, "%s: model years %s (%s)", t.cells[0],
                    t.cells[3], t.cells[4]))
            tap_note("found %s", years);
        if (strlen(t.cells[0]) == VIN_SIZE)
            tap_ok(vin_is_valid17(t.cells[0]) == (v.fault == VIN_FAULT_NONE),
                   "%s: the fast path agrees", t.cells[0]);
    }
}

static void check_repair_table(void)
{
    struct table t;
    table_open(&t, "vin_repair.tsv");
    while (table_next(&t, 3)) {
        struct vin_repair r[VIN_REPAIRS_MAX];
        const size_t n = vin_repair(t.cells[0], strlen(t.cells[0]), NULL, 0, r);
        size_t rank = 0;
        for (size_t i = 0; i < n; i++)
            if (strcmp(r[i].vin, t.cells[1]) == 0)
                rank = i + 1;
        if (strcmp(t.cells[1], "-") == 0)
            tap_ok(n == 0, "%s is not repaired (%s)", t.cells[0], t.cells[2]);
        else
            tap_ok(rank > 0, "%s is repaired to %s, rank %zu of %zu (%s)", t.cells[0], t.cells[1],
                   rank, n, t.cells[2]);
    }
}

/* ---- the tables of the regulation, written out once more --------------------------------------- */

static int value_of(char c)
{
    /* 49 CFR 565.15 Table III, column by column, as it is printed. */
    static const char *const columns[10] = {"0",    "1AJ", "2BKS", "3CLT", "4DMU",
                                            "5ENV", "6FW", "7GPX", "8HY",  "9RZ"};
    for (int v = 0; v < 10; v++)
        if (c != '\0' && strchr(columns[v], c) != NULL)
            return v;
    return -1;
}

static char digit_by_hand(const char *vin)
{
    static const int weights[17] = {8, 7, 6, 5, 4, 3, 2, 10, 0,
                                    9, 8, 7, 6, 5, 4, 3, 2}; /* Table IV */
    int sum = 0;
    for (int i = 0; i < 17; i++)
        sum += value_of(vin[i]) * weights[i];
    return "0123456789X"[sum % 11];
}

static void random_vin(unsigned long long *state, char *vin)
{
    for (int i = 0; i < VIN_SIZE; i++) /* the last six as most makers have them */
        vin[i] = legal[table_random(state) % (i < 11 ? sizeof legal - 1 : 10)];
    vin[VIN_SIZE] = '\0';
    vin[8] = digit_by_hand(vin);
}

static void check_arithmetic(void)
{
    enum { RUNS = 200000 };
    unsigned long long state = SEED;
    int n_bad = 0, n_valid = 0;
    tap_note("seed %llu", SEED);
    for (int i = 0; i < RUNS; i++) {
        char vin[VIN_SIZE + 1];
        random_vin(&state, vin);
        const int kind = (int)(table_random(&state) % 4);
        if (kind == 1) /* another check digit */
            vin[8] = legal[table_random(&state) % (sizeof legal - 1)];
        if (kind == 2) /* any byte anywhere */
            vin[table_random(&state) % VIN_SIZE] = (char)table_random(&state);
        if (kind == 3) /* lower case */
            for (int k = 0; k < VIN_SIZE; k++)
                vin[k] = (char)(vin[k] >= 'A' ? vin[k] + ('a' - 'A') : vin[k]);
        char upper[VIN_SIZE + 1] = "";
        bool is_legal = true;
        for (int k = 0; k < VIN_SIZE; k++) {
            upper[k] = (char)(vin[k] >= 'a' && vin[k] <= 'z' ? vin[k] - ('a' - 'A') : vin[k]);
            is_legal = is_legal && value_of(upper[k]) >= 0;
        }
        const bool is_valid = is_legal && digit_by_hand(upper) == upper[8];
        struct vin_verdict v;
        vin_check(vin, VIN_SIZE, &v);
        n_valid += is_valid;
        /* A blank or dash put at an end shortens the VIN for vin_check alone, invalid either way. */
        n_bad += vin_is_valid17(vin) != is_valid || (v.fault == VIN_FAULT_NONE) != is_valid;
    }
    tap_ok(n_bad == 0 && n_valid > RUNS / 4,
           "%d VINs judged as by 49 CFR 565.15 Tables III and IV, %d otherwise; %d were valid",
           RUNS, n_bad, n_valid);
    char equal[VIN_SIZE + 1] = "";
    int n_passed = 0;
    for (const char *c = legal; *c; c++) {
        memset(equal, *c, VIN_SIZE);
        n_passed += vin_is_valid17(equal) && *c != '1';
    }
    tap_ok(n_passed == 0,
           "no seventeen equal characters but the ones are valid (plausibility, our rule)");
    memset(equal, '7', VIN_SIZE);
    struct vin_verdict v;
    vin_check(equal, VIN_SIZE, &v);
    tap_ok(v.fault == VIN_FAULT_CHECK && v.is_filler && v.check_expected == '7' && v.at == 8,
           "seventeen sevens are a filler (plausibility, our rule)");
}

/* ---- hostile text ------------------------------------------------------------------------------ */

static void check_hostile(void)
{
    static const struct {
        const char *text;
        size_t n;
        enum vin_fault fault;
        size_t at;
        const char *what;
    } rows[] = {
        {"", 0, VIN_FAULT_LENGTH, 0, "nothing"},
        {"  -- ", 5, VIN_FAULT_LENGTH, 5, "blanks and dashes alone"},
        {"1G4AH59H45G11834", 16, VIN_FAULT_LENGTH, 16, "16 characters"},
        {"1G4AH59H45G1183411", 18, VIN_FAULT_LENGTH, 17, "18 characters"},
        {" 1G4AH59H55G118341", 18, VIN_FAULT_CHECK, 9, "a wrong check digit after a blank"},
        {"1G4AH59H45G1183\0001", 17, VIN_FAULT_CHARACTER, 15, "a NUL inside"},
        {"1G4AH59H45G118341\0", 18, VIN_FAULT_LENGTH, 17, "a NUL after"},
        {"\xff\xfe\xfd\xfc\xfb\xfa\xf9\xf8\xf7\xf6\xf5\xf4\xf3\xf2\xf1\xf0\xef", 17,
         VIN_FAULT_CHARACTER, 0, "no UTF-8"},
        {"1G4AH59H4QG118341", 17, VIN_FAULT_CHARACTER, 9, "a Q"},
        {"1G4AH59H45G11834\n", 17, VIN_FAULT_CHARACTER, 16, "a line feed"},
        {"NaN", 3, VIN_FAULT_LENGTH, 3, "NaN"},
        {"-infinity", 9, VIN_FAULT_LENGTH, 9, "minus infinity"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct vin_verdict v;
        struct vin_repair r[VIN_REPAIRS_MAX];
        char *copy = malloc(rows[i].n ? rows[i].n : 1); /* reading on would be found */
        memcpy(copy, rows[i].text, rows[i].n);
        vin_check(copy, rows[i].n, &v);
        vin_repair(copy, rows[i].n, NULL, 0, r);
        const bool is_clean =
            strspn(v.vin, "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ?") == strlen(v.vin);
        if (!tap_ok(v.fault == rows[i].fault && v.at == rows[i].at && is_clean,
                    "%s: fault %s at %zu (49 CFR 565.13(b))", rows[i].what,
                    vin_fault_name(rows[i].fault), rows[i].at))
            tap_note("found %d at %zu", (int)v.fault, v.at);
        free(copy);
    }
    enum { BIG = 100 * 1024 };
    char *big = malloc(BIG);
    struct vin_verdict v;
    struct vin_repair r[VIN_REPAIRS_MAX];
    memset(big, '1', BIG);
    vin_check(big, BIG, &v);
    tap_ok(v.fault == VIN_FAULT_LENGTH && v.at == 17 && vin_repair(big, BIG, NULL, 0, r) == 0,
           "100 kB of ones have the wrong length (49 CFR 565.13(b))");
    free(big);
}

/* ---- repairs ----------------------------------------------------------------------------------- */

/* The pairs that vin.h names, as an outsider reads them there. */
static const char *const sure_pairs[] = {"I1", "O0", "Q0", "S5", "B8", "Z2", "G6"};
static const char *const likely_pairs[] = {
    "D0", "DO", "DQ", "Q9", "QG", "CO", "L1", "LI", "71", "T7", "Z7", "A4", "94", "38", "3B",
    "35", "56", "68", "06", "08", "UV", "VY", "VW", "CG", "MN", "HN", "KX", "EF", "PR"};

struct tally {
    long n, n_found, sum_rank, sum_listed, worst_rank, n_first;
};

/* Breaks truth into read; when that shows, the truth must be in the list and the list must be sound. */
static void try_repair(struct tally *t, const char *truth, const char *read, bool *is_sound)
{
    struct vin_repair r[VIN_REPAIRS_MAX];
    if (vin_is_valid17(read) || strcmp(truth, read) == 0)
        return;
    const size_t n = vin_repair(read, VIN_SIZE, NULL, 0, r);
    t->n++;
    t->sum_listed += (long)n;
    for (size_t i = 0; i < n; i++) {
        *is_sound = *is_sound && vin_is_valid17(r[i].vin) && r[i].rank == (int)i + 1 &&
                    r[i].at >= 1 && r[i].at <= VIN_SIZE && r[i].was == read[r[i].at - 1] &&
                    r[i].now == r[i].vin[r[i].at - 1] && r[i].was != r[i].now;
        for (size_t k = 0; k < i; k++)
            *is_sound = *is_sound && strcmp(r[i].vin, r[k].vin) != 0 && r[k].kind <= r[i].kind;
        if (strcmp(r[i].vin, truth) == 0) {
            t->n_found++;
            t->sum_rank += (long)i + 1;
            t->n_first += i == 0;
            if ((long)i + 1 > t->worst_rank)
                t->worst_rank = (long)i + 1;
        }
    }
}

static void tell(const struct tally *t, const char *what)
{
    tap_ok(t->n > 0 && t->n_found == t->n,
           "%s: the truth is among the repairs of all %ld, missing from %ld (property)", what, t->n,
           t->n - t->n_found);
    tap_note("%s: average rank %.2f of %.2f proposals, worst %ld, first in %.1f %%", what,
             (double)t->sum_rank / (double)t->n_found, (double)t->sum_listed / (double)t->n,
             t->worst_rank, 100.0 * (double)t->n_first / (double)t->n);
}

static void misread(struct tally *t, const char *truth, const char *const *pairs, size_t n_pairs,
                    bool *is_sound)
{
    for (size_t i = 0; i < VIN_SIZE; i++)
        for (size_t p = 0; p < n_pairs; p++)
            for (int end = 0; end < 2; end++) {
                char read[VIN_SIZE + 1];
                memcpy(read, truth, sizeof read);
                if (read[i] != pairs[p][end])
                    continue;
                read[i] = pairs[p][1 - end];
                try_repair(t, truth, read, is_sound);
            }
}

static void check_repairs(void)
{
    enum { RUNS = 2000 };
    unsigned long long state = SEED + 1;
    struct tally sure = {0}, likely = {0}, swaps = {0}, many = {0};
    bool is_sound = true;
    for (int run = 0; run < RUNS; run++) {
        char truth[VIN_SIZE + 1], read[VIN_SIZE + 1];
        random_vin(&state, truth);
        misread(&sure, truth, sure_pairs, sizeof sure_pairs / sizeof sure_pairs[0], &is_sound);
        misread(&likely, truth, likely_pairs, sizeof likely_pairs / sizeof likely_pairs[0],
                &is_sound);
        for (size_t i = 0; i + 1 < VIN_SIZE; i++) {
            memcpy(read, truth, sizeof read);
            read[i] = truth[i + 1];
            read[i + 1] = truth[i];
            try_repair(&swaps, truth, read, &is_sound);
        }
        memcpy(read, truth, sizeof read);
        for (size_t i = 0; i < VIN_SIZE; i++) { /* every 0 and 1 read as a letter */
            if (read[i] == '1')
                read[i] = 'I';
            if (read[i] == '0')
                read[i] = table_random(&state) % 2 ? 'O' : 'Q';
        }
        try_repair(&many, truth, read, &is_sound);
    }
    tell(&sure, "sure look-alikes");
    tell(&likely, "likely look-alikes");
    tell(&swaps, "neighbours swapped");
    tell(&many, "every 0 and 1 read as O, Q and I");
    tap_ok(is_sound,
           "every repair is valid, differs as it says, comes once and in order (property)");
}

static void check_known(void)
{
    enum { KNOWN = 500, RUNS = 3000 };
    static char known[KNOWN][VIN_SIZE + 1];
    unsigned long long state = SEED + 2;
    for (int i = 0; i < KNOWN; i++)
        random_vin(&state, known[i]);
    const char(*list)[VIN_SIZE + 1] = (const char(*)[VIN_SIZE + 1]) known;
    int n_bad = 0, n_tried = 0;
    for (int run = 0; run < RUNS; run++) { /* any single character, look-alike or not */
        const char *truth = known[table_random(&state) % KNOWN];
        char read[VIN_SIZE + 1];
        memcpy(read, truth, sizeof read);
        read[table_random(&state) % VIN_SIZE] =
            "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*"[table_random(&state) % 37];
        struct vin_repair r[VIN_REPAIRS_MAX];
        if (vin_is_valid17(read))
            continue;
        const size_t n = vin_repair(read, VIN_SIZE, list, KNOWN, r);
        n_tried++;
        n_bad += n != 1 || strcmp(r[0].vin, truth) != 0;
    }
    tap_ok(
        n_bad == 0 && n_tried > RUNS / 2,
        "with a list any single wrong character leads to the one VIN, %d of %d do not (property)",
        n_bad, n_tried);
    struct vin_repair r[VIN_REPAIRS_MAX];
    static const char european[2][VIN_SIZE + 1] = {"WP0ZZZ99ZTS392124", "WDBEA30D3HA391172"};
    tap_ok(vin_repair(european[0], VIN_SIZE, european, 2, r) == 0,
           "a VIN that is in the list is not repaired, though its digit is wrong (vin.h)");
    tap_ok(vin_repair("WP0ZZZ99ZTS392I24", VIN_SIZE, european, 2, r) == 1 &&
               strcmp(r[0].vin, european[0]) == 0 && r[0].kind == VIN_REPAIR_MISREAD &&
               r[0].at == 15 && r[0].was == 'I' && r[0].now == '1',
           "a listed VIN is proposed whatever its check digit (vin.h)");
    tap_ok(vin_repair("WP0ZZZ99ZTS393124", VIN_SIZE, european, 2, r) == 1 &&
               r[0].kind == VIN_REPAIR_KNOWN,
           "a character that looks like no other is found by the list alone (vin.h)");
    tap_ok(vin_repair("WDBEA30D3HA931172", VIN_SIZE, european, 2, r) == 1 &&
               r[0].kind == VIN_REPAIR_SWAP && r[0].at == 12,
           "swapped neighbours are found in the list (vin.h)");
    tap_ok(vin_repair("WDBEA3QD3HA39I172", VIN_SIZE, european, 1, r) == 0,
           "what is not in the list is not proposed (vin.h)");
    static const char odd[1][VIN_SIZE + 1] = {"WP0ZZZ99ZTS392I24"};
    tap_ok(vin_repair(odd[0], VIN_SIZE, odd, 1, r) == 0,
           "a list that holds the very faulty text does not propose it (found by fuzzing)");
    tap_ok(vin_repair("1G4AH59H45G113841", VIN_SIZE, european, 0, r) == 0,
           "an empty list proposes nothing (vin.h)");
}

int main(void)
{
    check_table();
    check_repair_table();
    check_arithmetic();
    check_hostile();
    check_repairs();
    check_known();
    return tap_done();
}
