/* world: the invented world of a campaign before any work is done: units with their labels, shops, technicians, and which claim is
 * made by whom on which day with what fault. Everything follows from the bulletin, the number of units and the seed. */
#ifndef DEMO_WORLD_H
#define DEMO_WORLD_H

#include "base/fault.h"
#include "bulletin/adapt.h"
#include "core/vin.h"
#include "demo/kinds.h"
#include "demo/random.h"
#include "proof/keyring.h"

enum { WORLD_STATIONS = 2, WORLD_LABEL = 40, WORLD_ID = 40, WORLD_DAYS = 256 };

/* Rates of failure that are planted: of columns from the weeks of the bulletin's windows, and of all others. */
#define WORLD_RATE_INSIDE  0.16
#define WORLD_RATE_OUTSIDE 0.02
/* After the bulletin came out, failures a year: of columns from the windows that are still to be repaired, of repaired ones, and
 * of all others. */
#define WORLD_RATE_OPEN     0.35
#define WORLD_RATE_REPAIRED 0.04
#define WORLD_RATE_OTHERS   0.02

struct world_station {
    int32_t day;             /* built */
    char label[WORLD_LABEL]; /* as printed */
    bool is_in;
    bool has_failed;
    int32_t days; /* in service until it failed, or until the bulletin came out */
};

struct world_unit {
    char vin[VIN_SIZE + 1];
    int variant; /* index in the bulletin */
    int32_t day; /* built */
    struct world_station station[WORLD_STATIONS];
};

/* A mark stands off what is measured by so much, and is looked at from so far; how often a habit is given in to. */
#define WORLD_STAND_OFF_NM    INT64_C(1000000)
#define WORLD_EYE_DISTANCE_NM INT64_C(300000000)
#define WORLD_HABIT_PERCENT   60

struct world_person {
    char id[WORLD_ID];
    size_t shop;
    double speed; /* times of work: 0.85 quick to 1.15 slow */
    double
        gauge_off; /* how far their instruments are off, in standard uncertainties of calibration */
    int64_t eye_off_nm; /* how far aside of the mark their eye stands: parallax (core/tape) */
    bool has_habit;     /* a last digit of 0 or 5 where another would do */
    uint8_t busy[WORLD_DAYS / 8];
};

struct world_shop {
    char id[WORLD_ID];
    enum bulletin_payee kind;
    int64_t rate_minor;
    int offset_min; /* local time less UTC */
    struct keyring_secret secret;
    uint8_t key[SIGN_KEY_SIZE];
    size_t first_person, n_persons;
};

#define WORLD_NONE SIZE_MAX

struct world_claim {
    uint64_t number; /* its streams; not its place */
    size_t unit, shop, person;
    int32_t day;
    int start_min; /* of the local day */
    int64_t arrived_ms;
    enum kind kind;
    int station;                             /* that the fault is about */
    size_t source;                           /* index of an earlier claim, or WORLD_NONE */
    bool is_source, is_done[WORLD_STATIONS]; /* columns that were worked on */
};

struct world {
    const struct bulletin *bulletin;
    char bulletin_sha256[2 * 32 + 1];
    struct adapt_scope *rule;
    uint64_t seed;
    size_t n_units, n_shops, n_persons, n_claims;
    struct world_unit *units;
    struct world_shop *shops;
    struct world_person *persons;
    struct world_claim *claims; /* in the order in which they arrive */
};

/* world_make: the bulletin must be of the invented drive's kind: two stations, variants with codes and windows. faulty: share of
 * claims with a planted fault, 0..0.9. *ret is the caller's: world_done it whether this fails or not. Errors: ERR_DOMAIN (another
 * kind of bulletin), ERR_LIMIT, ERR_IO (no key could be made), ERR_MEMORY. */
MUST_USE enum err world_make(const struct bulletin *bulletin, const char *sha256, size_t units,
                             uint64_t seed, double faulty, struct world *ret, struct fault *reterr);
void world_done(struct world *world);

/* Its parts, in this order: units.c, staff.c, plan.c. */
MUST_USE enum err world_units(struct world *world, struct fault *reterr);
MUST_USE enum err world_staff(struct world *world, struct fault *reterr);
MUST_USE enum err world_plan(struct world *world, double faulty, struct fault *reterr);

/* world_label: a label by one of the bulletin's patterns; pattern picks it. */
void world_label(const struct world *world, size_t pattern, int32_t day, const char *code,
                 char ret[WORLD_LABEL]);

/* world_is_in: whether a column of this variant built that week is in. */
bool world_is_in(const struct world *world, int variant, int32_t day);

/* world_window_day: a day in one of the variant's windows, by weeks. world_other_week: one of another week. */
int32_t world_window_day(const struct world *world, int variant, struct random *r);
int32_t world_other_week(const struct world *world, int variant, int32_t day, struct random *r);

/* world_code: the code of a variant as printed on labels, closing '*' filled in; the same for the same random stream. */
void world_code(const struct world *world, int variant, struct random *r, char *buf, size_t room);

/* world_vin: a VIN of the invented maker; its check digit is right (49 CFR 565.15, by core/vin). */
void world_vin(int year, uint64_t serial, char ret[VIN_SIZE + 1]);

#endif
