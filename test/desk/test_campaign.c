/* campaign: reading ahead and breaking off; what the figures are is campaign.py's to hold against peers. */
#include "base/file.h"
#include "desk/campaign.h"
#include "desk/papers.h"

#include "tap.h"

#include <stdlib.h>
#include <string.h>

#define ROOT TEST_TABLES "/../../"

static char folder[] = "/tmp/mendwright-test-campaign-XXXXXX";
static const int64_t now_ms = 1790000000000;

static void must(enum err err, const struct fault *f, const char *what)
{
    if (err == ERR_OK)
        return;
    printf("Bail out! %s: %s\n", what, f->message);
    exit(2);
}

static void keep(struct store *store)
{
    const struct paper_order order = {.kind = PAPER_BULLETIN,
                                      .path = ROOT "examples/OV-26-03.yaml",
                                      .revision = STORE_UNKNOWN,
                                      .now_ms = now_ms};
    struct fault_list faults = {0};
    struct paper_answer answer = {0};
    struct fault f = {0};
    must(paper_keep(store, &order, &faults, &answer, &f), &f, "keep");
    fault_list_done(&faults);
}

static void list_unit(struct store *store, const char *vin)
{
    const struct store_build b = {.vin = vin, .station = "fore", .label = "WD40 2024-W12"};
    struct fault f = {0};
    must(store_build_put(store, &b, 1, now_ms, &f), &f, "builds");
}

/* The answer's text and tag; held: the tag that is known already, NULL for none. */
static enum err ask(struct store *store, struct campaign_boards *boards, const char *held,
                    struct text *ret, char tag[CAMPAIGN_TAG_ROOM], bool *ret_same, struct fault *f)
{
    const struct campaign_order order = {.since_ms = STORE_UNKNOWN, .now_ms = now_ms};
    text_clear(ret);
    return campaign_json(store, boards, &order, held, ret, tag, ret_same, f);
}

static void check(struct store *store)
{
    struct fault f = {0};
    struct text cold = {0}, warm = {0};
    char tag[CAMPAIGN_TAG_ROOM], other[CAMPAIGN_TAG_ROOM];
    bool is_same = false;
    struct campaign_boards *boards = campaign_boards_new(), *fresh = campaign_boards_new();
    tap_ok(campaign_warm(store, boards, now_ms, &f) == ERR_OK, "nothing kept: nothing to read");
    keep(store);
    list_unit(store, "1FHMC00X000000001");
    tap_ok(campaign_warm(store, boards, now_ms, &f) == ERR_OK, "read ahead: %s", f.message);
    must(ask(store, boards, NULL, &warm, tag, &is_same, &f), &f, "ask");
    must(ask(store, fresh, NULL, &cold, other, &is_same, &f), &f, "ask");
    tap_ok(strcmp(tag, other) == 0 && cold.size > 100 && cold.size == warm.size &&
               memcmp(cold.data, warm.data, cold.size) == 0,
           "what was read ahead tells the same as what was not");
    tap_ok(ask(store, boards, tag, &warm, other, &is_same, &f) == ERR_OK && is_same &&
               warm.size == 0,
           "and is known by its tag");
    list_unit(store, "1FHMC00X000000002");
    campaign_boards_stop(boards);
    tap_ok(ask(store, boards, NULL, &warm, other, &is_same, &f) == ERR_IO,
           "stopped, nothing is read any more: %s", f.message);
    must(ask(store, fresh, tag, &cold, other, &is_same, &f), &f, "ask");
    tap_ok(!is_same && strstr(cold.data, "\"in_scope\":2") != NULL,
           "other boards go on, and see the second unit");
    text_done(&cold);
    text_done(&warm);
    campaign_boards_free(boards);
    campaign_boards_free(fresh);
}

int main(void)
{
    char path[80], command[120];
    struct store *store = NULL;
    struct fault f = {0};
    bool is_made = false;
    if (mkdtemp(folder) == NULL) {
        printf("Bail out! no folder\n");
        return 2;
    }
    snprintf(path, sizeof path, "%s/store", folder);
    must(store_init(path, &is_made, &f), &f, "init");
    must(store_open(path, STORE_WRITE, &store, &f), &f, "open");
    check(store);
    store_close(store);
    snprintf(command, sizeof command, "rm -r %s", folder);
    if (system(command) != 0)
        tap_note("%s is left behind", folder);
    return tap_done();
}
