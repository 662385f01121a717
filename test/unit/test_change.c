/* change: what two revisions differ in. The expectations are read off the edits below by a person: each edit is one line of YAML. */
#include "base/file.h"
#include "bulletin/change.h"
#include "tap.h"

#include <string.h>

static struct text demo;
static bool back; /* from the edited one to the demo */

/* The demo bulletin with each pair's first text put in place of its second, the first time it stands after `after`. */
struct edit {
    const char *after, *was, *now;
};

static struct bulletin *edited(const struct edit *edits, size_t n)
{
    struct text t = {0};
    struct fault_list faults = {0};
    text_add(&t, demo.data, demo.size);
    for (size_t i = 0; i < n; i++) {
        const char *from = strstr(t.data, edits[i].after);
        const char *at = from != NULL ? strstr(from, edits[i].was) : NULL;
        struct text next = {0};
        if (at == NULL) {
            tap_ok(false, "the demo bulletin holds '%s' after '%s'", edits[i].was, edits[i].after);
            continue;
        }
        text_add(&next, t.data, (size_t)(at - t.data));
        text_puts(&next, edits[i].now);
        text_puts(&next, at + strlen(edits[i].was));
        text_done(&t);
        t = next;
    }
    struct bulletin *b = bulletin_load(t.data, t.size, "edited", &faults);
    if (b == NULL)
        tap_ok(false, "the edited bulletin is sound: %s at line %d",
               faults.n_faults > 0 ? faults.faults[0].message : "?",
               faults.n_faults > 0 ? faults.faults[0].line : 0);
    fault_list_done(&faults);
    text_done(&t);
    return b;
}

static bool is_text(const char *a, const char *b)
{
    return a == NULL || b == NULL ? a == b : strcmp(a, b) == 0;
}

static void expect(const char *what, const struct edit *edits, size_t n_edits,
                   const struct change *want, size_t n)
{
    struct bulletin *was = edited(NULL, 0), *now = edited(edits, n_edits);
    struct change_list list = {0};
    struct fault f = {0};
    bool good = was != NULL && now != NULL &&
                changes_between(back ? now : was, back ? was : now, &list, &f) == ERR_OK;
    good = good && list.n == n && list.n_more == 0;
    for (size_t i = 0; good && i < n; i++)
        good = is_text(list.changes[i].where, want[i].where) &&
               is_text(list.changes[i].was, want[i].was) &&
               is_text(list.changes[i].now, want[i].now);
    tap_ok(good, "%s", what);
    for (size_t i = 0; !good && i < list.n; i++)
        tap_note("%s: %s -> %s", list.changes[i].where,
                 list.changes[i].was != NULL ? list.changes[i].was : "(nothing)",
                 list.changes[i].now != NULL ? list.changes[i].now : "(nothing)");
    change_list_done(&list);
    bulletin_free(was);
    bulletin_free(now);
}

#define EXPECT(what, edits, ...)                                                                   \
    expect(what, edits, sizeof(edits) / sizeof *(edits), (struct change[]){__VA_ARGS__},           \
           sizeof((struct change[]){__VA_ARGS__}) / sizeof(struct change))

static void values(void)
{
    EXPECT("a whole number", ((struct edit[]){{"bulletin:", "revision: 2", "revision: 3"}}),
           {"bulletin: revision", "2", "3"});
    EXPECT("a length", ((struct edit[]){{"cut:", "kerf: 1.6 mm", "kerf: 1.8 mm"}}),
           {"cut: kerf", "1.6 mm", "1.8 mm"});
    EXPECT("money, in the bulletin's currency",
           ((struct edit[]){{"claim:", "rate: 68.00", "rate: 71.50"}}),
           {"claim: rate", "68.00", "71.50"});
    EXPECT("a time", ((struct edit[]){{"labour:", "unit: 400 min", "unit: 7 h"}}),
           {"labour: unit", "400 min", "7 h"});
    EXPECT(
        "a share",
        ((struct edit[]){
            {"labour:", "station: fore, share_of_unit: 1/2", "station: fore, share_of_unit: 1/3"},
            {"labour:", "station: aft, share_of_unit: 1/2", "station: aft, share_of_unit: 2/3"}}),
        {"labour: stations: fore: share_of_unit", "1/2", "1/3"},
        {"labour: stations: aft: share_of_unit", "1/2", "2/3"});
    EXPECT("a word of a list", ((struct edit[]){{"claim:", "who: [shop, mobile]", "who: [shop]"}}),
           {"claim: who", "shop, mobile", "shop"});
    EXPECT("a text in one language",
           ((struct edit[]){{"id: close", "fr: Clore le travail", "fr: Terminer le travail"}}),
           {"steps: close: title: fr", "Clore le travail", "Terminer le travail"});
    /* 2024-W15 runs from Monday 2024-04-08 to Sunday 2024-04-14, W16 to 2024-04-21 (ISO 8601; GNU date -d agrees). */
    EXPECT("the end of a build window",
           ((struct edit[]){{"id: wd40", "to: 2024-W15", "to: 2024-W16"}}),
           {"scope: variants: wd40: windows: 1: to", "2024-04-08 to 2024-04-14",
            "2024-04-15 to 2024-04-21"});
}

static void things(void)
{
    const struct edit mask[] = {{"protective:", "  - {id: shoes,",
                                 "  - {id: mask, name: {en: Dust mask}}\n  - {id: shoes,"}};
    const struct change gone = {"protective: mask", "Dust mask", NULL};
    EXPECT("a window that is new",
           ((struct edit[]){{"id: wd70", "        - {from: 2024-W38, to: 2024-09-29}\n",
                             "        - {from: 2024-W38, to: 2024-09-29}\n        - {from: "
                             "2024-12-01, to: 2024-12-02}\n"}}),
           {"scope: variants: wd70: windows: 2", NULL, "from 2024-12-01, to 2024-12-02"});
    EXPECT("a thing that is new, by its name", mask, {"protective: mask", NULL, "Dust mask"});
    back = true;
    expect("a thing that is gone", mask, 1, &gone, 1);
    back = false;
    EXPECT("things that changed places, and one of them its name",
           ((struct edit[]){{"protective:", "  - {id: glasses, name: {en: Safety glasses}}\n", ""},
                            {"protective:", "  - {id: hearing,",
                             "  - {id: glasses, name: {en: Goggles}}\n  - {id: hearing,"}}),
           {"protective: glasses: name: en", "Safety glasses", "Goggles"},
           {"protective: order", "glasses, gloves, hearing, shoes, helmet",
            "gloves, glasses, hearing, shoes, helmet"});
}

static void nothing(void)
{
    const struct edit same[] = {{"cut:", "kerf: 1.6 mm", "kerf: 0.16 cm"}};
    expect("the same file", NULL, 0, NULL, 0);
    expect("a length in another unit is the same (1.6 mm is 0.16 cm)", same, 1, NULL, 0);
}

int main(void)
{
    struct fault f = {0};
    if (file_read(TEST_TABLES "/../../examples/OV-26-03.yaml", BULLETIN_SIZE_MAX, &demo, &f) !=
        ERR_OK) {
        tap_ok(false, "the demo bulletin is read");
        return tap_done();
    }
    nothing();
    values();
    things();
    text_done(&demo);
    return tap_done();
}
