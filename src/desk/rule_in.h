/* rule_in: what the parts of rule share; for rule*.c and ruling_letter.c only. */
#ifndef DESK_RULE_IN_H
#define DESK_RULE_IN_H

#include "bulletin/adapt.h"
#include "desk/rule.h"

enum {
    RULE_WHOLE = -1, /* a finding about the whole claim */
    RULE_OTHER = -2, /* about a station that the bulletin does not have: draft.station names it */
    RULE_PHOTOS_MAX = 60,
    RULE_MONEY_SIZE = 40,
    RULE_AMOUNT_SIZE = QUANTITY_SHOW_MAX + 16,
    RULE_TIME_SIZE = 24
};

#define RULE_HOUR_MS ((int64_t)3600 * 1000)

/* How far two clocks may be apart before it is said: a camera or phone may show any zone's time (UTC-12 to UTC+14, from memory of
 * the time-zone database), and which one is not known. */
#define RULE_CLOCK_MS (26 * RULE_HOUR_MS)

/* ---- the book ---- */

struct rule_point {
    int station;     /* index; -1: the whole unit */
    int step;        /* the first step that reads it; -1 */
    bool is_wanted;  /* among proof.readings */
    bool is_reached; /* an adjuster changes it */
    double u;        /* with the bulletin's instrument */
    struct conform_limits limits, guarded;
    int64_t guard;
};

struct rule_step {
    bool is_only_cutting; /* its one hazard is cutting: nothing to do where no rack is cut */
    bool is_work;         /* confirming it at a station means that the station was worked on */
};

struct rule_photo {
    bool is_label, is_coded; /* shows a label; a label or a plate, with codes to be compared */
    bool is_only_cutting;    /* asked for by such steps alone */
    bool is_work;
};

struct rule_book {
    const struct bulletin *b;
    char sha256[EVENT_SHA256_SIZE + 1];
    struct adapt_scope scope;
    struct adapt_kits kits;
    int values[BULLETIN_STATIONS_MAX][KIT_ATTRIBUTES_MAX];
    int64_t labour_s[BULLETIN_STATIONS_MAX];
    struct rule_point points[BULLETIN_POINTS_MAX];
    struct rule_step steps[BULLETIN_STEPS_MAX];
    struct rule_photo photos[RULE_PHOTOS_MAX];
    bool does_pay[BULLETIN_PAYS_N];
    bool is_payee[BULLETIN_PAYEE_OWNER + 1];
    double guard_factor; /* z(1 - risk) */
};

/* ---- one ruling ---- */

/* What the job says of one station of the bulletin. */
struct rule_site {
    const char *id;
    const struct job_station *at; /* NULL: the job says nothing of it */
    bool is_worked;
    const char *label; /* as typed; NULL */
    bool is_unreadable;
    char variant[LABEL_VARIANT_MAX + 1];
    const struct event_kit_chosen *chosen; /* NULL: none */
    int kit;     /* index; -1: none, or one that the bulletin does not have */
    bool is_cut; /* a rack of its kit is cut, as far as is known */
    enum rule_level worst;
};

struct rule_run {
    const struct rule_case *c;
    const struct rule_book *book;
    const struct bulletin *b;
    const struct job *job;
    const struct store_claim *claim;
    const struct rule_known *known;
    struct rule_ruling *ret;
    struct rule_site sites[BULLETIN_STATIONS_MAX];
    struct scope_sight sights[SCOPE_STATIONS_MAX];
    struct scope_answer scope;
    bool has_scope;
    size_t n_sites, n_worked;
    enum rule_level worst_whole, worst_other;
    struct rule_finding draft;
};

/* Findings: rule_message and rule_cure fill the draft, rule_evidence says what it points at (texts that outlive the ruling; NULL),
 * rule_add puts it in its place. */
void rule_message(struct rule_run *r, const char *fmt, ...) PRINTF_LIKE(2, 3);
void rule_cure(struct rule_run *r, const char *fmt, ...) PRINTF_LIKE(2, 3);
void rule_evidence(struct rule_run *r, const char *what, const char *other, const char *other_what);
void rule_add(struct rule_run *r, enum rule_id rule, enum rule_level level, int station);

/* rule_text: cut at a whole character, without anything that cannot be shown. */
void rule_text(char *buf, size_t room, const char *fmt, ...) PRINTF_LIKE(3, 4);

/* The rules, by file. */
void rule_scope(struct rule_run *r);
void rule_bulletin(struct rule_run *r);
void rule_proof(struct rule_run *r);
void rule_readings(struct rule_run *r);
void rule_kit(struct rule_run *r);
void rule_work(struct rule_run *r);
void rule_about_claim(struct rule_run *r);
void rule_money(struct rule_run *r); /* last: needs the stations' levels */

/* ---- helpers ---- */

int rule_station(const struct bulletin *b, const char *id); /* index; -1 when there is none */

/* job_item where the station is known already (NULL: none); of moves and expenses any of that key. */
const struct job_item *rule_item(const struct job *job, const struct job_station *at,
                                 enum event_type type, const char *key);

/* The latest event of a type and key at the unit or any station; NULL. *ret_root: where it stands. */
const struct event *rule_latest(const struct job *job, enum event_type type, const char *key,
                                size_t *ret_root);

/* " of fore", or "" for the whole unit. */
struct rule_of {
    char text[EVENT_ID_MAX + 5];
};
struct rule_of rule_of(const char *station);

/* Whether two texts of a label say the same: but for blanks and case, or by what they read as. */
bool rule_same_label(const struct bulletin *b, const char *a, const char *z);

const char *rule_money_text(const struct bulletin *b, int64_t minor,
                            char buf[RULE_MONEY_SIZE]);                          /* "68.00 EUR" */
const char *rule_length(int64_t nm, enum unit show, char buf[RULE_AMOUNT_SIZE]); /* "1203.5 mm" */
const char *rule_amount(int64_t nano, enum unit unit,
                        char buf[RULE_AMOUNT_SIZE]);                   /* "61.6 mm", "5" */
const char *rule_minutes(int64_t seconds, char buf[RULE_AMOUNT_SIZE]); /* "200 min", "90 s" */
const char *rule_time(int64_t ms, char buf[RULE_TIME_SIZE]);           /* "2026-05-04 07:12 UTC" */
int32_t rule_day(int64_t ms); /* the UTC day, kept within core/date */

#endif
