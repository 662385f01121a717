/* Rows for core/modes: worked by hand from the definition (design of experiments, full 2^k
 * factorial), and properties: the effects hold the deviations exactly. */
#include "core/modes.h"
#include "tap.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

static uint64_t next_random(uint64_t *state) /* splitmix64 */
{
    uint64_t z = (*state += 0x9E3779B97F4A7C15u);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9u;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBu;
    return z ^ (z >> 31);
}

/* All combinations of k factors, shuffled. */
static void factorial(struct modes_point *points, size_t k, uint64_t *state)
{
    const size_t n = (size_t)1 << k;
    for (size_t p = 0; p < n; p++) {
        memset(&points[p], 0, sizeof points[p]);
        for (size_t i = 0; i < k; i++)
            points[p].level[i] = (p >> i & 1) ? -1 : 1;
    }
    for (size_t p = n - 1; p > 0; p--) {
        const size_t q = next_random(state) % (p + 1);
        const struct modes_point held = points[p];
        points[p] = points[q];
        points[q] = held;
    }
}

static void hand_rows(void)
{
    /* Factors side, height. Deviations: fore-upper 5, fore-lower 1, aft-upper -1, aft-lower 3 (nm).
     * mean (5+1-1+3)/4 = 2; side (5+1+1-3)/4 = 1; height (5-1-1-3)/4 = 0; both (5-1+1+3)/4 = 2. */
    const struct modes_point points[4] = {
        {{1, 1}, 5, 3.0}, {{1, -1}, 1, 0.0}, {{-1, 1}, -1, 4.0}, {{-1, -1}, 3, 0.0}};
    static const int64_t want_sum[4] = {8, 4, 0, 8}, want_value[4] = {2, 1, 0, 2};
    struct modes_effect got[4];
    tap_ok(modes_effects(points, 4, 2, got) == ERR_OK, "two factors are taken");
    for (unsigned s = 0; s < 4; s++)
        tap_ok(got[s].set == s && got[s].sum == want_sum[s] && got[s].value == want_value[s],
               "set %u: sum %" PRId64 ", value %" PRId64 " (by hand)", s, want_sum[s],
               want_value[s]);
    tap_ok(got[0].u == 1.25, "u = sqrt(3^2 + 4^2)/4 = 1.25 (JCGM 100 5.1.2)");
    tap_ok(!got[0].is_significant, "2 is not beyond 2 x 1.25");
    const struct modes_point exact[2] = {{{1}, 3, 0.0}, {{-1}, 2, 0.0}};
    struct modes_effect e[2];
    tap_ok(modes_effects(exact, 2, 1, e) == ERR_OK && e[0].sum == 5 && e[0].value == 2 &&
               e[1].sum == 1 && e[1].value == 0,
           "5/2 and 1/2 round to the even neighbour (by hand)");
    tap_ok(e[0].is_significant && e[1].is_significant, "without uncertainty every effect counts");
    const struct modes_point minus[2] = {{{1}, -3, 0.0}, {{-1}, 0, 0.0}};
    tap_ok(modes_effects(minus, 2, 1, e) == ERR_OK && e[0].value == -2 && e[1].value == -2,
           "-3/2 rounds to -2 (by hand)");
    const struct modes_point one[1] = {{{0}, -7, 1.0}};
    tap_ok(modes_effects(one, 1, 0, e) == ERR_OK && e[0].value == -7 && e[0].u == 1.0,
           "no factor, one point: its own mean");
}

static void refusals(void)
{
    struct modes_point p[MODES_EFFECTS_MAX * 2] = {{{0}, 0, 0.0}};
    struct modes_effect got[MODES_EFFECTS_MAX * 2];
    uint64_t state = 1;
    factorial(p, 2, &state);
    tap_ok(modes_effects(p, 3, 2, got) == ERR_EMPTY, "a combination is missing: ERR_EMPTY");
    tap_ok(modes_effects(p, 0, 2, got) == ERR_EMPTY, "nothing at all: ERR_EMPTY");
    p[1] = p[0];
    tap_ok(modes_effects(p, 4, 2, got) == ERR_DUPLICATE, "a combination twice: ERR_DUPLICATE");
    factorial(p, 2, &state);
    p[2].level[1] = 0;
    tap_ok(modes_effects(p, 4, 2, got) == ERR_DOMAIN, "a level that is not -1 or +1: ERR_DOMAIN");
    factorial(p, 2, &state);
    p[2].u = -1.0;
    tap_ok(modes_effects(p, 4, 2, got) == ERR_DOMAIN, "a negative uncertainty: ERR_DOMAIN");
    tap_ok(modes_effects(p, 32, 5, got) == ERR_LIMIT, "five factors: ERR_LIMIT");
    tap_ok(modes_effects(p, 17, 4, got) == ERR_LIMIT, "seventeen points: ERR_LIMIT");
    factorial(p, 1, &state);
    p[0].deviation = p[1].deviation = INT64_MAX;
    tap_ok(modes_effects(p, 2, 1, got) == ERR_RANGE, "a sum beyond int64: ERR_RANGE");
}

static void inversion(uint64_t seed)
{
    uint64_t state = seed;
    int n_bad = 0, n_plain_bad = 0;
    for (int round = 0; round < 4000; round++) {
        const size_t k = (size_t)(round % (MODES_FACTORS_MAX + 1)), n = (size_t)1 << k;
        struct modes_point p[MODES_EFFECTS_MAX];
        struct modes_effect effects[MODES_EFFECTS_MAX];
        int64_t again[MODES_EFFECTS_MAX];
        factorial(p, k, &state);
        for (size_t i = 0; i < n; i++)
            p[i].deviation = (int64_t)next_random(&state) / (int64_t)n;
        if (modes_effects(p, n, k, effects) != ERR_OK) {
            n_bad++;
            continue;
        }
        modes_invert(effects, p, n, k, again);
        for (size_t i = 0; i < n; i++)
            n_bad += again[i] != p[i].deviation;
        /* The definition, term by term, for one set. */
        const unsigned set = (unsigned)(next_random(&state) % n);
        int64_t sum = 0;
        for (size_t i = 0; i < n; i++) {
            int64_t sign = 1;
            for (size_t f = 0; f < k; f++)
                sign *= (set >> f & 1u) ? p[i].level[f] : 1;
            sum += sign * (p[i].deviation / 64) * 64 + sign * (p[i].deviation % 64);
        }
        n_plain_bad += sum != effects[set].sum;
    }
    tap_note("seed %" PRIu64, seed);
    tap_ok(
        n_bad == 0,
        "4000 random factorials, 0..4 factors, deviations over all of int64/2^k: inverted exactly");
    tap_ok(n_plain_bad == 0, "each sum equals the product of levels, term by term (definition)");
}

static void pure_modes(void)
{
    /* A deviation made of one pattern alone shows up in that set and nowhere else. */
    for (unsigned set = 0; set < 8; set++) {
        struct modes_point p[8];
        struct modes_effect e[8];
        uint64_t state = set;
        factorial(p, 3, &state);
        for (size_t i = 0; i < 8; i++) {
            p[i].deviation = 1500000;
            p[i].u = 300000.0;
            for (size_t f = 0; f < 3; f++)
                if (set >> f & 1u)
                    p[i].deviation *= p[i].level[f];
        }
        bool is_good = modes_effects(p, 8, 3, e) == ERR_OK;
        for (unsigned s = 0; s < 8; s++)
            is_good = is_good && e[s].value == (s == set ? 1500000 : 0) &&
                      e[s].is_significant == (s == set);
        tap_ok(is_good,
               "1.5 mm of pattern %u alone is found as that and nothing else (orthogonality)", set);
    }
}

static void meaning_rows(void)
{
    static const char *const gaps[3] = {"side", "height", "travel"};
    static const char *const turned[3] = {"travel", "side", "height"};
    static const struct {
        unsigned set, turned_set;
        const char *word;
    } rows[] = {{0, 0, "opening wrong width"},
                {1, 2, "room off-centre"},
                {2, 4, "keystone:"},
                {3, 6, "leaning"},
                {4, 1, "taper"},
                {5, 3, "yaw over travel"},
                {6, 5, "keystone changing"},
                {7, 7, "twist"}};
    char buf[128], other[128];
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const size_t n = modes_meaning(gaps, 3, rows[i].set, buf, sizeof buf);
        tap_ok(n == strlen(buf) && strstr(buf, rows[i].word),
               "set %u means \"%s...\" (design section 4)", rows[i].set, rows[i].word);
        modes_meaning(turned, 3, rows[i].turned_set, other, sizeof other);
        tap_ok(strcmp(buf, other) == 0, "whatever the order of the factors");
    }
    static const char *const ramp[2] = {"side", "height"};
    static const char *const words[4] = {"all readings off by the same amount",
                                         "off to one side:", "differs from bottom to top",
                                         "leaning:"};
    for (unsigned set = 0; set < 4; set++) {
        modes_meaning(ramp, 2, set, buf, sizeof buf);
        tap_ok(strstr(buf, words[set]) == buf && !strstr(buf, "room") && !strstr(buf, "opening"),
               "where nothing travels, set %u speaks of no room: %s", set, buf);
    }
    static const char *const names[2] = {"shift", "side"};
    modes_meaning(names, 2, 1, buf, sizeof buf);
    tap_ok(strcmp(buf, "differs with shift") == 0, "an unknown factor: %s", buf);
    modes_meaning(names, 2, 3, buf, sizeof buf);
    tap_ok(strcmp(buf, "differs with shift and side together") == 0, "and with another: %s", buf);
    modes_meaning(names, 1, 0, buf, sizeof buf);
    tap_ok(strcmp(buf, "all readings off by the same amount") == 0, "the mean without sides: %s",
           buf);
    const size_t n = modes_meaning(gaps, 3, 7, buf, 6);
    tap_ok(n == 5 && strcmp(buf, "twist") == 0, "cut to the room given");
    tap_ok(modes_meaning(gaps, 3, 7, buf, 0) == 0, "no room at all");
}

int main(int argc, char **argv)
{
    hand_rows();
    refusals();
    inversion(argc > 1 ? strtoull(argv[1], NULL, 10) : 20260301u);
    pure_modes();
    meaning_rows();
    return tap_done();
}
