/* advice: the truing engine's advice and three plain strategies, each followed on the same faulty units by the operations of
 * core/practice, so that minutes and readings are the model's. For bench_advice and for its small version in the tests. */
#ifndef TEST_ADVICE_H
#define TEST_ADVICE_H

#include "core/practice.h"

/* ADVICE_TRUING: guarded as the demo's bulletin has it, 5 % a reading. ADVICE_TRUING_ALL: 1 % for all eight readings together, that
 * is 1 - 0.99^(1/8) = 0.00126 each (Sidak). ADVICE_AIMED: what the
 * program advises (core/advise): the demo's guard says what is inside already, the other one where plans aim. The plain strategies look at the readings alone. */
enum advice_way {
    ADVICE_TRUING,
    ADVICE_TRUING_ALL,
    ADVICE_AIMED,
    ADVICE_WORST,
    ADVICE_ONE,
    ADVICE_EQUAL,
    ADVICE_WAYS
};

enum { ADVICE_ROUNDS = 12 };

struct advice_outcome {
    bool is_fixable;   /* by the true gaps some plan brings all of them inside */
    bool is_in_before; /* nothing had to be moved, in truth */
    bool is_in_first;  /* in truth, after the first go */
    bool is_in_end;    /* in truth, when the strategy was content or gave up */
    bool is_content;   /* it stopped because all it read was inside */
    bool said_no;      /* truing: no plan brings every reading inside its guarded limits */
    bool
        said_never; /* truing: nor even inside the limits themselves, by more than the guard band */
    bool is_in_step;    /* rack ends within their limit after timing's jumps, in truth */
    int moves, rounds;  /* adjusters moved, counted each time; goes */
    int64_t seconds;    /* of all of it after the racks were put in step */
    int64_t worst_left; /* margin of the worst gap at the end, in truth */
};

const char *advice_name(enum advice_way way);

/* advice_follow: unit `seed` of practice_draw(spread), racks put in step by timing first, then one way until it is content, at
 * most ADVICE_ROUNDS goes. has_tape: gaps are read with the steel tape (1 mm), off by what its calibration leaves open, and not with
 * the gauge. False for a failure of the model, which is a bug. */
bool advice_follow(enum advice_way way, uint64_t seed, int spread, bool has_tape,
                   struct advice_outcome *ret);

#endif
