/* bench_advice: faulty units drawn by seed, each put right by truing's advice and by three plain strategies, with the tape's real
 * noise. Arguments: UNITS (1000), SPREAD in per cent (150), FIRST SEED (1), "tape": gaps
 * read with a steel tape and not with the bulletin's gauge. Ends with 1 when what the program advises brings
 * fewer than 99 in 100 of the fixable inside at the first go. */
#include "advice.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { UNITS_MAX = 100000 };

struct tally {
    int n, n_fixable, n_first, n_end, n_content_wrong, n_no_fixable, n_never, n_never_wrong,
        n_unfixable_told, n_step, n_promised, n_kept;
    long moves;
    double minutes;
};

static void count(struct tally *t, const struct advice_outcome *o)
{
    t->n++;
    t->n_step += o->is_in_step;
    t->n_never += o->said_never;
    t->n_never_wrong += o->said_never && o->is_fixable;
    t->n_promised += !o->said_no;
    t->n_kept += !o->said_no && o->is_in_first;
    if (!o->is_fixable) {
        t->n_unfixable_told += o->said_no;
        return;
    }
    t->n_fixable++;
    t->n_no_fixable += o->said_no;
    t->n_first += o->is_in_first;
    t->n_end += o->is_in_end;
    t->n_content_wrong += o->is_content && !o->is_in_end;
    t->moves += o->moves;
    t->minutes += (double)o->seconds / 60.0;
}

/* The next units that are out before anything is moved. */
static bool find_faulty(long units, long spread, long first, uint64_t *ret_seeds)
{
    long n = 0;
    for (uint64_t seed = (uint64_t)first; n < units; seed++) {
        struct advice_outcome o;
        if (!advice_follow(ADVICE_EQUAL, seed, (int)spread, false, &o))
            return false;
        if (!o.is_in_before)
            ret_seeds[n++] = seed;
    }
    return true;
}

static void show(const struct tally *tally, long spread, bool has_tape)
{
    const struct tally *t = &tally[ADVICE_TRUING_ALL];
    printf("  %d faulty units (spread %ld %%) read with %s, %d with racks in step after timing; %d "
           "can be "
           "brought inside by six adjusters\n",
           t->n, spread, has_tape ? "a steel tape to 1 mm" : "the gauge to 0.1 mm", t->n_step,
           t->n_fixable);
    printf("  %-18s %14s %15s %13s %7s %9s\n", "of these", "first go", "in the end", "wrongly done",
           "moves", "minutes");
    for (int w = 0; w < ADVICE_WAYS; w++) {
        const struct tally *s = &tally[w];
        const double n = s->n_fixable > 0 ? s->n_fixable : 1;
        printf("  %-18s %6d %5.1f %% %7d %5.1f %% %13d %7.2f %9.1f\n",
               advice_name((enum advice_way)w), s->n_first, 100.0 * s->n_first / n, s->n_end,
               100.0 * s->n_end / n, s->n_content_wrong, (double)s->moves / n, s->minutes / n);
    }
    for (int w = ADVICE_TRUING; w <= ADVICE_AIMED; w++) {
        const struct tally *s = &tally[w];
        printf("  %s: of %d plans that promise all inside, %d keep it at the first go (%.1f %%)\n",
               advice_name((enum advice_way)w), s->n_promised, s->n_kept,
               100.0 * s->n_kept / (s->n_promised > 0 ? s->n_promised : 1));
        printf("  %s, said before moving: no plan meets the guarded limits: %d of the %d that "
               "cannot be brought in, %d of the %d "
               "that can; nor the limits, beyond the gauge's doubt: %d, wrongly of %d\n",
               advice_name((enum advice_way)w), s->n_unfixable_told, s->n - s->n_fixable,
               s->n_no_fixable, s->n_fixable, s->n_never, s->n_never_wrong);
    }
}

int main(int argc, char **argv)
{
    static uint64_t seeds[UNITS_MAX];
    static struct tally tally[ADVICE_WAYS];
    const long units = argc > 1 ? strtol(argv[1], NULL, 10) : 1000;
    const long spread = argc > 2 ? strtol(argv[2], NULL, 10) : 150;
    const long first = argc > 3 ? strtol(argv[3], NULL, 10) : 1;
    const bool has_tape = argc > 4 && strcmp(argv[4], "tape") == 0;
    if (units < 1 || units > UNITS_MAX || spread < 50 || spread > 300 || first < 0) {
        fprintf(stderr, "usage: bench_advice [UNITS 1..%d [SPREAD 50..300 [FIRST SEED [tape]]]]\n",
                UNITS_MAX);
        return 2;
    }
    bool is_good = find_faulty(units, spread, first, seeds);
    for (int w = 0; is_good && w < ADVICE_WAYS; w++)
        for (long i = 0; is_good && i < units; i++) {
            struct advice_outcome o;
            is_good = advice_follow((enum advice_way)w, seeds[i], (int)spread, has_tape, &o);
            count(&tally[w], &o);
        }
    if (!is_good) {
        fputs("bench_advice: the model failed\n", stderr);
        return 3;
    }
    show(tally, spread, has_tape);
    const struct tally *t = &tally[ADVICE_AIMED];
    return !has_tape && t->n_first * 100 < t->n_fixable * 99;
}
