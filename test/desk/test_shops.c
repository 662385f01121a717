/* shops: the rules of shops.h on small lists written by hand, and finding against a plain search of all rows. Days are counted by
 * core/date, whose own tests have their sources; here they only stand before and after each other. Shops are invented. */
#include "base/text.h"
#include "core/date.h"
#include "desk/shops.h"

#include "table.h"
#include "tap.h"

#include <string.h>

static int32_t day_of(const char *s)
{
    int32_t day = 0;
    if (date_parse(s, strlen(s), &day) != ERR_OK)
        tap_ok(false, "%s is a day", s);
    return day;
}

static const char list[] = "kind,note,shop,from,rate\r\n"
                           "mobile,\"Fern, the second\",fern-2,2026-03-01,72.50\r\n"
                           "mobile,,fern-2,,68.00\r\n"
                           "dealer,,Orrin.North,2026-05-01,\r\n"
                           "shop,,fern-2,2026-06-01,70\r\n"
                           "owner,,al,,0\r\n";

static void by_hand(void)
{
    struct shops *shops = NULL;
    struct fault f = {0};
    if (!tap_ok(shops_read(list, sizeof list - 1, "shops.csv", 2, &shops, &f) == ERR_OK,
                "a list is read, columns in any order, further ones left alone")) {
        tap_note("%s", f.message);
        return;
    }
    tap_ok(shops_n(shops) == 5, "five rows");
    tap_ok(strcmp(shops_at(shops, 0)->id, "Orrin.North") == 0 &&
               strcmp(shops_at(shops, 1)->id, "al") == 0 && shops_at(shops, 2)->from == INT32_MIN &&
               shops_at(shops, 3)->from == day_of("2026-03-01") &&
               shops_at(shops, 4)->from == day_of("2026-06-01"),
           "by id, then day, always first");
    static const struct {
        const char *id, *day;
        int64_t rate; /* -1: not in the list */
        enum bulletin_payee kind;
    } rows[] = {
        {"fern-2", "2000-01-01", 6800, BULLETIN_PAYEE_MOBILE},
        {"fern-2", "2026-02-28", 6800, BULLETIN_PAYEE_MOBILE},
        {"fern-2", "2026-03-01", 7250, BULLETIN_PAYEE_MOBILE},
        {"fern-2", "2026-05-31", 7250, BULLETIN_PAYEE_MOBILE},
        {"fern-2", "2026-06-01", 7000, BULLETIN_PAYEE_SHOP},
        {"fern-2", "2199-12-31", 7000, BULLETIN_PAYEE_SHOP},
        {"Orrin.North", "2026-04-30", -1, BULLETIN_PAYEE_SHOP},
        {"Orrin.North", "2026-05-01", BULLETIN_NO_AMOUNT, BULLETIN_PAYEE_DEALER},
        {"al", "2026-01-01", 0, BULLETIN_PAYEE_OWNER},
        {"Al", "2026-01-01", -1, BULLETIN_PAYEE_SHOP},
        {"", "2026-01-01", -1, BULLETIN_PAYEE_SHOP},
        {"fern", "2026-12-01", -1, BULLETIN_PAYEE_SHOP},
        {"fern-22", "2026-12-01", -1, BULLETIN_PAYEE_SHOP},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        const struct shops_row *row = shops_find(shops, rows[i].id, day_of(rows[i].day));
        tap_ok(rows[i].rate == -1
                   ? row == NULL
                   : row != NULL && row->rate_minor == rows[i].rate && row->kind == rows[i].kind &&
                         strcmp(row->id, rows[i].id) == 0,
               "\"%s\" on %s: %s", rows[i].id, rows[i].day,
               rows[i].rate == -1 ? "not in the list" : "the row that has begun last");
    }
    shops_free(shops);
    shops_free(NULL);
    static const char bare[] = "shop,kind\nfern,shop\n";
    shops = NULL;
    tap_ok(shops_read(bare, sizeof bare - 1, "b", 2, &shops, &f) == ERR_OK &&
               shops_at(shops, 0)->rate_minor == BULLETIN_NO_AMOUNT &&
               shops_at(shops, 0)->from == INT32_MIN,
           "without columns rate and from: the bulletin's rate, always");
    shops_free(shops);
    static const char yen[] = "shop,kind,rate\nfern,shop,6800\n",
                      dinar[] = "shop,kind,rate\nfern,shop,21.250\n";
    shops = NULL;
    tap_ok(shops_read(yen, sizeof yen - 1, "b", 0, &shops, &f) == ERR_OK &&
               shops_at(shops, 0)->rate_minor == 6800,
           "a currency without decimals");
    shops_free(shops);
    shops = NULL;
    tap_ok(shops_read(dinar, sizeof dinar - 1, "b", 3, &shops, &f) == ERR_OK &&
               shops_at(shops, 0)->rate_minor == 21250,
           "a currency with three");
    shops_free(shops);
    shops = NULL;
    tap_ok(shops_read("shop,kind\n", 10, "b", 2, &shops, &f) == ERR_OK && shops_n(shops) == 0 &&
               shops_find(shops, "fern", 0) == NULL,
           "a list of nobody is a list");
    shops_free(shops);
}

static void refusals(void)
{
    static const struct {
        const char *text;
        enum err e;
        int line, column;
        const char *path, *words;
    } rows[] = {
        {"", ERR_EMPTY, 0, 0, "", "nothing in it"},
        {"shops,kind\nfern,shop\n", ERR_EMPTY, 1, 0, "", "did you mean \"shops\"?"},
        {"shop,what\nfern,shop\n", ERR_EMPTY, 1, 0, "", "no column \"kind\""},
        {"shop,kind,rates\nfern,shop,68\n", ERR_UNKNOWN, 1, 0, "", "none \"rate\""},
        {"shop,kind,From\nfern,shop,\n", ERR_UNKNOWN, 1, 0, "", "none \"from\""},
        {"shop,kind\n-fern,shop\n", ERR_SYNTAX, 2, 1, "shop", "\"-fern\""},
        {"shop,kind\nfern ,shop\n", ERR_SYNTAX, 2, 1, "shop", "\"fern \""},
        {"shop,kind\n,shop\n", ERR_SYNTAX, 2, 1, "shop", "expected a shop's id"},
        {"shop,kind\nfern,Shop\n", ERR_UNKNOWN, 2, 6, "kind",
         "expected shop, mobile, dealer or owner"},
        {"shop,kind\nfern,\n", ERR_UNKNOWN, 2, 6, "kind", "found \"\""},
        {"shop,kind,rate\nfern,shop,\"1,5\"\n", ERR_SYNTAX, 2, 11, "rate", "money"},
        {"shop,kind,rate\nfern,shop,68.5\n", ERR_DOMAIN, 2, 11, "rate", "2 decimals"},
        {"shop,kind,rate\nfern,shop,-5\n", ERR_DOMAIN, 2, 11, "rate", "negative"},
        {"shop,kind,rate\nfern,shop,99999999999999\n", ERR_RANGE, 2, 11, "rate", "more money"},
        {"shop,kind,from\nfern,shop,2026-02-30\n", ERR_IMPOSSIBLE, 2, 11, "from", "YYYY-MM-DD"},
        {"shop,kind,from\nfern,shop,1.3.2026\n", ERR_SYNTAX, 2, 11, "from", "YYYY-MM-DD"},
        {"shop,kind\nfern,shop\nal,shop\nfern,owner\n", ERR_DUPLICATE, 4, 0, "", "line 2"},
        {"shop,kind,from\nfern,shop,2026-03-01\nfern,shop,\nfern,mobile,2026-03-01\n",
         ERR_DUPLICATE, 4, 0, "", "from 2026-03-01 again, which line 2"},
        {"shop,kind\nfern\n", ERR_SYNTAX, 2, 0, "", "found 1 field"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        struct shops *shops = NULL;
        struct fault f = {0};
        const enum err e = shops_read(rows[i].text, strlen(rows[i].text), "s.csv", 2, &shops, &f);
        if (!tap_ok(e == rows[i].e && f.code == e && f.line == rows[i].line &&
                        f.column == rows[i].column && strcmp(f.path, rows[i].path) == 0 &&
                        strcmp(f.file, "s.csv") == 0 && strstr(f.message, rows[i].words) != NULL &&
                        shops == NULL,
                    "refused (%s, line %d): %s", err_symbol(rows[i].e), rows[i].line,
                    rows[i].words))
            tap_note("%s at %d:%d %s: %s", err_symbol(e), f.line, f.column, f.path, f.message);
        shops_free(shops);
    }
}

/* The plain way: the latest row of that id that has begun. */
static const struct shops_row *search(const struct shops *shops, const char *id, int32_t day)
{
    const struct shops_row *best = NULL;
    for (size_t i = 0; i < shops_n(shops); i++) {
        const struct shops_row *row = shops_at(shops, i);
        if (strcmp(row->id, id) == 0 && row->from <= day &&
            (best == NULL || row->from > best->from))
            best = row;
    }
    return best;
}

static void against_search(void)
{
    enum { LISTS = 60, ASKED = 200 };
    unsigned long long state = 4180;
    int n_same = 0, n_found = 0;
    for (int k = 0; k < LISTS; k++) {
        struct text t = {0};
        struct shops *shops = NULL;
        struct fault f = {0};
        text_puts(&t, "shop,kind,from\n");
        bool is_given[6][30] = {{false}};
        for (int i = (int)(table_random(&state) % 60); i >= 0; i--) {
            const unsigned shop = (unsigned)(table_random(&state) % 6),
                           day = (unsigned)(table_random(&state) % 30);
            if (!is_given[shop][day])
                text_printf(&t, day == 0 ? "s%u,shop,\n" : "s%u,shop,2026-04-%02u\n", shop, day);
            is_given[shop][day] = true;
        }
        if (shops_read(t.data, t.size, "t", 2, &shops, &f) != ERR_OK) {
            tap_ok(false, "a made list is read: %s", f.message);
            text_done(&t);
            return;
        }
        for (int i = 0; i < ASKED; i++) {
            char id[8];
            snprintf(id, sizeof id, "s%u", (unsigned)(table_random(&state) % 7));
            const int32_t day = day_of("2026-03-30") + (int32_t)(table_random(&state) % 35);
            const struct shops_row *found = shops_find(shops, id, day);
            n_same += found == search(shops, id, day);
            n_found += found != NULL;
        }
        shops_free(shops);
        text_done(&t);
    }
    tap_ok(n_same == LISTS * ASKED && n_found > LISTS * ASKED / 10 && n_found < LISTS * ASKED,
           "%d of %d questions are answered as a search of all rows answers (%d found)", n_same,
           (int)(LISTS * ASKED), n_found);
}

int main(void)
{
    by_hand();
    refusals();
    against_search();
    return tap_done();
}
