/* work: one technician's job on one unit, simulated: the bulletin's steps in their order and the time they take, readings from the
 * forward model (core/mechanism, core/drive) by this person's instruments (core/tape), kit and cut by the core, truing by the core until all
 * is inside. What comes out is a list of events and of photos to be taken; plant.h then puts the faults in. */
#ifndef DEMO_WORK_H
#define DEMO_WORK_H

#include "core/drive.h"
#include "core/tape.h"
#include "demo/world.h"
#include "draw/picture.h"
#include "proof/event.h"

enum {
    WORK_EVENTS = 400,
    WORK_SHOTS = 32,
    WORK_PAIRS = 8,
    WORK_ARENA = 16 * 1024,
    WORK_WIDTH = 640,
    WORK_HEIGHT = 480,
    WORK_QUALITY = 85
};

enum { WORK_RUN_OUT, WORK_RUN_IN };

enum work_treat {
    TREAT_NONE,
    TREAT_DARK,
    TREAT_BLUR,
    TREAT_HALF,
    TREAT_CROP,
    TREAT_BRIGHT,
    TREAT_MIRROR,
    TREAT_CUT_OFF
};

/* A photo to be taken: everything its file hangs on. */
struct work_shot {
    enum picture_subject subject;
    uint64_t seed;
    char text[WORLD_LABEL], code[WORLD_LABEL]; /* "": none */
    int64_t taken_ms;
    int offset_min, quality;
    enum work_treat treat;
    char path[64];
    char sha256[2 * 32 + 1];    /* of the file, once it is written */
    bool is_gone, must_be_read; /* left out; drawn anew until its code can be read */
};

/* What is made once for a bulletin and used for every job. */
struct work_tools {
    const struct bulletin *bulletin;
    struct adapt_kits *kits;
    struct mechanism mechanism;
};
MUST_USE enum err work_tools_make(const struct bulletin *bulletin, struct work_tools *ret,
                                  struct fault *reterr);
void work_tools_done(struct work_tools *tools);

struct work_event {
    struct event event; /* texts are the bulletin's, the world's, or in the arena */
    int shot;           /* of photo_taken: index into shots; else -1 */
    bool is_gone;       /* taken away by a fault */
};

struct work {
    const struct world *world;
    const struct world_claim *claim;
    const struct work_tools *tools;
    struct random random, ids;
    char vin[VIN_SIZE + 1], plate[VIN_SIZE + 1]; /* as typed; as on the plate */
    int64_t revision;
    char bulletin_sha256[2 * 32 + 1];
    const char *shop, *technician;
    const struct keyring_secret *secret; /* NULL: not signed */
    struct keyring_secret own_secret;    /* of a shop that is in no list */
    char label[WORLD_STATIONS][WORLD_LABEL],
        label_code[WORLD_STATIONS][WORLD_LABEL]; /* as typed; as in the photo's code */

    int64_t now_ms;
    double speed;
    struct mechanism mechanism;
    struct mechanism_state state;
    bool has_run;
    struct drive_run runs[2];          /* WORK_RUN_OUT, WORK_RUN_IN; once has_run */
    int64_t length_nm[WORLD_STATIONS]; /* of the old racks, truly */
    const char *relief[WORLD_STATIONS];
    bool is_trued;

    struct work_event events[WORK_EVENTS];
    struct work_shot shots[WORK_SHOTS];
    struct event_pair pairs[WORK_PAIRS];
    size_t n_events, n_shots, n_pairs, n_arena;
    char arena[WORK_ARENA];
    enum err err; /* the first thing that did not fit; events after it are not added */
};

/* work_do: the whole job of a claim as it would be done well; but for what its fault changes on the way (racks left out of step, a
 * column that can be cut). Errors: ERR_LIMIT, ERR_MEMORY, ERR_DOMAIN (a bulletin that the world does not suit). */
MUST_USE enum err work_do(const struct world *world, const struct world_claim *claim,
                          const struct work_tools *tools, struct work *ret, struct fault *reterr);

/* ---- for the parts of it (work.c, measure.c, plant.c) ------------------------------------------ */

/* work_add: an event at the job's time; station -1: the whole unit. NULL when it does not fit. */
struct event *work_add(struct work *w, enum event_type type, int station);
const char *work_text(struct work *w,
                      const char *text);        /* copied into the arena; "" when it does not fit */
void work_pass(struct work *w, double minutes); /* at this technician's pace, more or less */
const char *work_station(const struct work *w, int station);

/* What measure.c does at a step. */
void work_read_gaps(struct work *w, const char *step);
void work_true(struct work *w, const char *step);
void work_measure_racks(struct work *w, int station);
void work_choose_kit(struct work *w, int station);
void work_cut(struct work *w, int station);
void work_read(struct work *w, const struct bulletin_point *point, const char *step);

/* read.c. work_shown: what this technician writes down of a true value, with the bulletin's instrument (NULL or "": none, and the value
 * as it is). work_drive_tells: the true value where it is volts, amperes or seconds of the drive; runs it the first time. work_normal: a
 * normal figure, drawn again while it is beyond `most`. */
int64_t work_shown(struct work *w, const char *instrument, bool is_length, int64_t true_nano);
bool work_drive_tells(struct work *w, const struct bulletin_point *point, int64_t *ret_nano);
double work_normal(struct random *r, double most);

/* work_state: how the unit stands when the technician arrives; work_rebuilt: once its columns are rebuilt. */
void work_state(struct work *w);
void work_rebuilt(struct work *w);

#endif
