/* campaign_scope: owns the judging of the build list: which stations of which unit are in the bulletin's scope.
 *
 * A list of a million units has a few thousand different labels, and units with the same labels stand alike unless their VIN
 * matters; so a label is read once and a combination of labels judged once, as long as the tables have room. */
#include "bulletin/adapt.h"
#include "desk/campaign_board.h"

#include <stdlib.h>
#include <string.h>

enum { LABELS_MAX = 1 << 16, COMBINATIONS_MAX = 1 << 18, NO_LABEL = 0 };

struct judged {
    uint16_t in, unknown;
};

struct judging {
    struct board *b;
    struct adapt_scope *scope;
    struct words labels;        /* the first is "": none */
    struct scope_sight *sights; /* [labels.n] */
    size_t sights_room;
    struct words combinations; /* of labels and of what the VIN says */
    struct judged *verdicts;   /* [combinations.n] */
    size_t verdicts_room;
    char vin[STORE_ID_MAX + 1];
    struct scope_sight now[SCOPE_STATIONS_MAX];
    uint32_t label[SCOPE_STATIONS_MAX]; /* UINT32_MAX: not in the table */
    uint16_t listed;
    bool is_broken;
};

static void read_sight(const struct judging *j, const char *label, struct scope_sight *ret)
{
    struct fault f = {0};
    *ret = (struct scope_sight){.state = SCOPE_LABEL_UNREAD};
    if (label[0] != '\0' && adapt_scope_label(j->b->bulletin, label, ret, &f) != ERR_OK)
        *ret = (struct scope_sight){.state = SCOPE_LABEL_UNREAD};
}

/* The label of one station of the unit. */
static void take_label(struct judging *j, size_t station, const char *label)
{
    if (j->labels.n >= LABELS_MAX) {
        j->label[station] = UINT32_MAX;
        read_sight(j, label, &j->now[station]);
        return;
    }
    const size_t before = j->labels.n;
    const uint32_t i = words_put(&j->labels, label, strlen(label));
    if (i == WORDS_NONE ||
        !board_grow(&j->sights, &j->sights_room, j->labels.n, sizeof *j->sights)) {
        j->is_broken = true;
        return;
    }
    if (j->labels.n > before)
        read_sight(j, label, &j->sights[i]);
    j->label[station] = i;
    j->now[station] = j->sights[i];
}

static struct judged judge(const struct judging *j)
{
    struct scope_answer answer;
    struct judged v = {0, 0};
    size_t at = 0;
    const size_t n = j->b->bulletin->scope.stations.n;
    if (scope_judge(&j->scope->rule, j->vin, strlen(j->vin), j->now, &answer, &at) != ERR_OK)
        return v;
    const bool is_swept = j->b->bulletin->scope.mixed == BULLETIN_MIXED_WHOLE_UNIT &&
                          (answer.unit == SCOPE_IN || answer.unit == SCOPE_MIXED);
    for (size_t i = 0; i < n; i++) {
        const uint16_t bit = (uint16_t)(1U << i);
        if (answer.stations[i].verdict == SCOPE_IN || (is_swept && (j->listed & bit) != 0))
            board_mark(&v.in, bit);
        else if (answer.stations[i].verdict == SCOPE_UNKNOWN && (j->listed & bit) != 0)
            board_mark(&v.unknown, bit);
    }
    return v;
}

/* What the VIN says where it matters: a bit each for a fault and for an affected beginning. */
static uint8_t see_vin(const struct judging *j)
{
    const struct scope_rule *rule = &j->scope->rule;
    uint8_t ret = 0;
    if (rule->vin_rule == SCOPE_VIN_REQUIRED)
        ret |= strlen(j->vin) != VIN_SIZE || !vin_is_valid17(j->vin);
    for (size_t i = 0; i < rule->n_prefixes; i++)
        if (strncmp(j->vin, rule->prefixes[i], strlen(rule->prefixes[i])) == 0)
            ret |= 2;
    return ret;
}

/* The verdict on labels and VIN as they stand, from the table where it has been given before. */
static struct judged judge_once(struct judging *j)
{
    char key[SCOPE_STATIONS_MAX * sizeof j->label[0] + 3];
    const size_t n = j->b->bulletin->scope.stations.n;
    for (size_t i = 0; i < n; i++)
        if (j->label[i] == UINT32_MAX)
            return judge(j);
    if (j->combinations.n >= COMBINATIONS_MAX)
        return judge(j);
    memcpy(key, j->label, n * sizeof j->label[0]);
    memcpy(key + n * sizeof j->label[0], &j->listed, sizeof j->listed);
    key[n * sizeof j->label[0] + 2] = (char)see_vin(j);
    const size_t before = j->combinations.n;
    const uint32_t i = words_put(&j->combinations, key, n * sizeof j->label[0] + 3);
    if (i == WORDS_NONE ||
        !board_grow(&j->verdicts, &j->verdicts_room, j->combinations.n, sizeof *j->verdicts)) {
        j->is_broken = true;
        return (struct judged){0, 0};
    }
    if (j->combinations.n > before)
        j->verdicts[i] = judge(j);
    return j->verdicts[i];
}

static void end_unit(struct judging *j)
{
    if (j->vin[0] == '\0' || j->is_broken)
        return;
    const struct judged v = judge_once(j);
    /* Units that are of no concern are not kept; a claim for one makes it known all the same. */
    if (v.in == 0 && v.unknown == 0)
        return;
    const uint32_t unit = board_unit_of(j->b, j->vin);
    if (unit == WORDS_NONE) {
        j->is_broken = true;
        return;
    }
    j->b->units[unit].in = v.in;
    j->b->units[unit].unknown = v.unknown;
}

static void begin_unit(struct judging *j, const char *vin)
{
    strncpy(j->vin, vin, sizeof j->vin - 1);
    j->listed = 0;
    for (size_t i = 0; i < j->b->bulletin->scope.stations.n; i++) {
        j->now[i] = (struct scope_sight){.state = SCOPE_LABEL_UNREAD};
        j->label[i] = NO_LABEL;
    }
}

/* By VIN and station. */
static bool see_build(void *me, const struct store_build *s)
{
    struct judging *j = me;
    if (strcmp(s->vin, j->vin) != 0) {
        end_unit(j);
        begin_unit(j, s->vin);
    }
    const int station = board_station(j->b, s->station, strlen(s->station));
    if (station < 0)
        return true;
    j->listed = (uint16_t)(j->listed | 1U << (unsigned)station);
    take_label(j, (size_t)station, s->label != NULL ? s->label : "");
    return !j->is_broken && !board_is_over(j->b);
}

enum err board_read_builds(struct board *b, struct store *store, struct fault *reterr)
{
    struct judging j = {.b = b};
    enum err err = ERR_OK;
    j.scope = calloc(1, sizeof *j.scope);
    j.is_broken = j.scope == NULL || words_put(&j.labels, "", 0) != NO_LABEL ||
                  !board_grow(&j.sights, &j.sights_room, 1, sizeof *j.sights);
    if (!j.is_broken) {
        j.sights[NO_LABEL] = (struct scope_sight){.state = SCOPE_LABEL_UNREAD};
        err = adapt_scope_rule(b->bulletin, j.scope, reterr);
    }
    if (err == ERR_OK && !j.is_broken)
        err = store_builds(store, NULL, see_build, &j, reterr);
    if (err == ERR_OK)
        end_unit(&j);
    if (err == ERR_OK && j.is_broken)
        err = fault_no_memory(reterr);
    free(j.scope);
    free(j.sights);
    free(j.verdicts);
    words_done(&j.labels);
    words_done(&j.combinations);
    return err;
}
