/* campaign_board: what a store says of one bulletin, held narrowly in memory so that it can be added up at once. Inside src/desk/campaign*.
 *
 * About 50 bytes a unit that is in scope, 300 a claim with what was entered for it, and 9 a reading: for 370 000 units and 200 000 claims
 * of fifteen readings some 100 MB. It is read once and then on from the place in the log where it was left; new rows of the build list or a new revision
 * of the bulletin make it anew. */
#ifndef DESK_CAMPAIGN_BOARD_H
#define DESK_CAMPAIGN_BOARD_H

#include "base/text.h"
#include "bulletin/arena.h"
#include "desk/campaign.h"
#include "desk/words.h"

#include <stdatomic.h>

/* By stations of the bulletin: bit i is station i. */
struct board_unit {
    uint16_t in, unknown;  /* by the build list */
    uint16_t told;         /* a claim tells of it */
    uint16_t done, proved; /* for campaign_sum alone */
    int32_t day;           /* of the first claim; INT32_MAX: none */
};

enum {
    BOARD_IS_WORD = 1,
    BOARD_HAS_FINDINGS = 2,
    BOARD_IS_REPLACED = 4,
    BOARD_IS_COPY = 8,
    BOARD_IS_FOREIGN = 16,
    BOARD_IS_RULED = 32,
    BOARD_HAS_SET = 64
};

struct board_claim {
    int64_t seq, taken_ms, finished_ms;
    uint32_t unit, shop, first_reading, n_readings;
    uint16_t told, sees_in, worked,
        pays;        /* stations: it names; found in scope; has a kit or an award; stands as pay */
    uint8_t verdict; /* what stands: enum rule_verdict, CAMPAIGN_UNRULED */
    uint8_t flags;
    uint8_t
        kit[BULLETIN_STATIONS_MAX]; /* index and 1; 0: none, or one the bulletin does not have */
    int64_t stands_minor, paid_minor;
    /* rows of sums; ruled: by the last ruling of the rules, stations that are not refused */
    uint32_t stands_kind, paid_kind, ruled_kind;
};

/* Money by kind. Many claims come to the same, so each different row is held once. */
struct board_sums {
    int64_t minor[CAMPAIGN_KINDS];
};

/* What a reading is beside its value, in one byte: its point, and these. */
enum { BOARD_POINT = 63, BOARD_IS_AFTER = 64, BOARD_IS_FINAL = 128 };
_Static_assert((int)BULLETIN_POINTS_MAX <= BOARD_POINT + 1, "a point has its place in the byte");

/* What came, for the news: a claim, or what was entered for one. */
enum { BOARD_CAME = UINT8_MAX }; /* a claim; else enum store_ruling_kind */
struct board_event {
    int64_t at_ms, paid_minor;
    uint8_t kind, verdict, is_change;
};

/* The news of BOARD_RUN events that follow on one another, so that those that are all new, or none of them, need not be looked at one
 * by one: a log is nearly in the order of time, and no run has to be. */
enum { BOARD_RUN = 64 };
struct board_run {
    int64_t first_ms, last_ms; /* the earliest and the latest of them */
    struct campaign_news news;
};

struct board_stock {
    int64_t on_hand, ordered, lead_days;
    bool is_told;
};
struct board_reserve {
    bool is_given;
    int64_t minor, at_ms, seq;
    char person[STORE_ID_MAX + 1];
};

struct board {
    char id[STORE_ID_MAX + 1];
    struct bulletin *bulletin;
    int64_t seq, paper; /* read up to; the last paper by then; 0: nothing yet */
    int64_t bulletin_seq;
    bool has_builds;
    struct words vins, shops, jobs, sets;
    struct board_unit *units; /* [vins.n] */
    size_t units_room;
    struct board_claim *claims; /* by seq */
    size_t n_claims, claims_room;
    struct words sums;    /* struct board_sums each; row 0 is nothing at all and not among them */
    int64_t *values_nano; /* of readings, by claim */
    uint8_t *marks;       /* of the same */
    size_t n_readings, values_room, marks_room;
    struct board_event *events;
    size_t n_events, events_room;
    struct board_run *runs; /* of whole runs of events */
    size_t n_runs, runs_room;
    uint32_t *last_of_job;  /* [jobs.n] claim */
    uint32_t *first_of_set; /* [sets.n] */
    size_t jobs_room, sets_room;
    int64_t *papers_ms; /* when each paper that holds was kept */
    size_t n_papers, papers_room;
    struct board_stock stock[BULLETIN_KITS_MAX];
    int64_t stock_ms;
    struct board_reserve reserve;
    /* what was made of it last */
    struct text told; /* JSON without the news; NULL: nothing */
    int64_t told_seq;
    int32_t told_day;
    uint64_t used;              /* when it was last asked for, in asks */
    const atomic_bool *is_over; /* of the boards it is among: reading breaks off */
};

/* board_read: up to the present of the store (which the caller holds). Errors: as campaign_read. After one the board is empty. */
MUST_USE enum err board_read(struct board *b, struct store *store, struct fault *reterr);
void board_done(struct board *b); /* frees everything; leaves id */

static inline bool board_is_over(const struct board *b)
{
    return atomic_load_explicit(b->is_over, memory_order_relaxed);
}

/* board_mark: adds the stations of one mask to another. */
static inline void board_mark(uint16_t *mask, uint16_t more)
{
    *mask = (uint16_t)(*mask | more);
}

/* board_grow: room for n items of an array; false: no memory. */
bool board_grow(void *array, size_t *room, size_t n, size_t size);
uint32_t board_unit_of(struct board *b, const char *vin);           /* WORDS_NONE: no memory */
int board_station(const struct board *b, const char *id, size_t n); /* -1: not the bulletin's */
struct board_sums board_sums(const struct board *b, uint32_t row);

/* board_sum_runs: adds up the runs that are whole by now; false: no memory. */
bool board_sum_runs(struct board *b);

/* board_read_builds: the build list judged by the bulletin's scope. board_read_papers: reserve and stock. board_read_claims, board_read_rulings: what came after b->seq. */
MUST_USE enum err board_read_builds(struct board *b, struct store *store, struct fault *reterr);
MUST_USE enum err board_read_papers(struct board *b, struct store *store, struct fault *reterr);
MUST_USE enum err board_read_claims(struct board *b, struct store *store, struct fault *reterr);
MUST_USE enum err board_read_rulings(struct board *b, struct store *store, struct fault *reterr);

/* ---- what is made of it: c->bulletin's arrays lie in the arena ------------------------------------------------------------------ */

struct board_answer {
    struct campaign c;
    struct arena arena;
};
/* A copy that lives as long as the campaign: the board may be made anew meanwhile. "" when memory ran out, which the arena remembers. */
const char *campaign_keep(struct board_answer *made, const char *text);

/* board_answer: fills *made from the board; errors ERR_MEMORY, ERR_LIMIT. The parts of it, in this order: */
MUST_USE enum err board_answer(struct board *b, const struct campaign_order *order,
                               struct board_answer *made, struct fault *reterr);
void campaign_sum(struct board *b, struct board_answer *made);
void campaign_sum_news(const struct board *b, int64_t since_ms, struct campaign_news *ret);
MUST_USE enum err campaign_come(const struct board *b, struct board_answer *made,
                                struct fault *reterr);
void campaign_kits(const struct board *b, int64_t now_ms, struct board_answer *made);
MUST_USE enum err campaign_points(const struct board *b, struct board_answer *made,
                                  struct fault *reterr);
MUST_USE enum err campaign_looks(const struct board *b, struct board_answer *made,
                                 struct fault *reterr);
void campaign_write_news(const struct campaign_news *news, const char *key, struct jsonw *w);
void campaign_write_rest(const struct campaign *c, struct jsonw *w); /* all but the news */

#endif
