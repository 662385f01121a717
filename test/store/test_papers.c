/* Papers and the build list: kept once, the last one holds, the text byte for byte, rebuilt and
 * verified like all else. Digests by the FIPS 180-4 example "abc". */
#include "synth.h"
#include "tap.h"

#include "base/text.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static char folder[256], path[600];
static struct store *store;

static void must(enum err err, const struct fault *f, const char *what)
{
    if (err != ERR_OK)
        synth_bail(what, f);
}

static bool is_good(void)
{
    static struct store_health h;
    struct fault f = {0};
    must(store_verify(store, NULL, NULL, &h, &f), &f, "verify");
    for (int64_t i = 0; i < h.n_faults && i < STORE_FAULTS_MAX; i++)
        tap_note("%s, %s: %s", h.faults[i].kind, h.faults[i].where, h.faults[i].message);
    return h.n_faults == 0;
}

static struct store_counts counts(void)
{
    struct store_counts c = {0};
    struct fault f = {0};
    must(store_count(store, &c, &f), &f, "count");
    return c;
}

/* ---- papers ---------------------------------------------------------------------------------- */

static bool keep_n(const char *kind, const char *name, int64_t revision, const char *text, size_t n)
{
    struct fault f = {0};
    struct store_paper p = {kind, name, revision, 1770000000000, text, n, {0}, 0, NULL};
    bool is_new = false;
    must(store_keep(store, &p, &is_new, &f), &f, "keep");
    return is_new;
}

static bool keep(const char *kind, const char *name, int64_t revision, const char *text)
{
    return keep_n(kind, name, revision, text, strlen(text));
}

/* What was seen, as "kind name revision text|". */
static bool list_paper(void *me, const struct store_paper *p)
{
    struct text *t = me;
    text_printf(t, "%s %s ", p->kind, p->name);
    if (p->revision == STORE_UNKNOWN)
        text_puts(t, "-");
    else
        text_printf(t, "%lld", (long long)p->revision);
    if (p->text != NULL)
        text_printf(t, " %.*s|", (int)p->n, p->text);
    else
        text_printf(t, " (%zu)|", p->n);
    return true;
}

static const char *papers(const char *kind, const char *name, bool has_text)
{
    static struct text t;
    struct fault f = {0};
    text_clear(&t);
    must(store_papers(store, kind, name, has_text, list_paper, &t, &f), &f, "papers");
    if (t.data == NULL)
        text_puts(&t, "");
    return t.size > 0 ? t.data : "";
}

static void is_list(const char *got, const char *wanted, const char *what)
{
    tap_ok(strcmp(got, wanted) == 0, "%s: %s", what, got);
}

static void check_papers(void)
{
    is_list(papers(NULL, NULL, true), "", "no papers at first");
    tap_ok(keep("bulletin", "B", 10, "ten"), "a paper is kept");
    tap_ok(!keep("bulletin", "B", 10, "ten"), "the same again is not");
    keep("bulletin", "B", 9, "nine");
    keep("bulletin", "A", 1, "a");
    keep("shops", "list", STORE_UNKNOWN, "one");
    tap_ok(keep("shops", "list", STORE_UNKNOWN, "two"), "another of the same name is");
    tap_ok(keep("shops", "list", STORE_UNKNOWN, "one"),
           "and the first again, after another, too: the last one holds");
    keep("bulletin", "B", 9, "nine, mended");
    is_list(papers(NULL, NULL, true),
            "bulletin A 1 a|bulletin B 9 nine, mended|bulletin B 10 ten|shops list - one|",
            "those that hold, by kind, name, revision");
    is_list(papers("bulletin", NULL, false),
            "bulletin A 1 (1)|bulletin B 9 (12)|bulletin B 10 (3)|", "of one kind, without texts");
    is_list(papers("bulletin", "B", true), "bulletin B 9 nine, mended|bulletin B 10 ten|",
            "of one name");
    is_list(papers(NULL, "list", true), "shops list - one|", "of one name and any kind");
    is_list(papers("keys", NULL, true), "", "of a kind that is not there");
    tap_ok(counts().papers == 4 && counts().entries == 7, "four hold, of seven entries");
    tap_ok(is_good(), "the store is whole");
}

struct whole {
    const char *text;
    size_t n;
    bool is_same;
    uint8_t sha256[STORE_DIGEST];
    int64_t seq;
};

static bool see_whole(void *me, const struct store_paper *p)
{
    struct whole *w = me;
    w->is_same = p->n == w->n && memcmp(p->text, w->text, w->n) == 0;
    memcpy(w->sha256, p->sha256, STORE_DIGEST);
    w->seq = p->seq;
    return true;
}

static bool comes_back(const char *name, const char *text, size_t n)
{
    struct whole w = {text, n, false, {0}, 0};
    struct fault f = {0};
    keep_n("bulletin", name, 1, text, n);
    must(store_papers(store, "bulletin", name, true, see_whole, &w, &f), &f, "papers");
    return w.is_same;
}

static void check_texts(void)
{
    /* Every character of one byte but NUL, and some of two to four. */
    static char odd[256];
    size_t n = 0;
    for (int c = 1; c < 0x80; c++)
        odd[n++] = (char)c;
    memcpy(odd + n, "\xc3\xb6\xe2\x82\xac\xf0\x9d\x84\x9e", 10);
    tap_ok(comes_back("odd", odd, n + 9), "a text of every odd character comes back byte for byte");
    char *large = malloc(STORE_PAPER_MAX + 1);
    if (large == NULL)
        synth_bail("memory", NULL);
    for (size_t i = 0; i < STORE_PAPER_MAX; i++)
        large[i] = i % 61 == 60 ? '\n' : (char)('a' + i % 26);
    tap_ok(comes_back("large", large, STORE_PAPER_MAX), "a text of the largest size too");
    struct fault f = {0};
    struct store_paper p = {"bulletin",          "x", 1, 1770000000000, large,
                            STORE_PAPER_MAX + 1, {0}, 0, NULL};
    bool is_new = false;
    const struct store_counts before = counts();
    tap_ok(store_keep(store, &p, &is_new, &f) == ERR_LIMIT && strcmp(f.path, "text") == 0,
           "a larger one is refused: %s", f.message);
    memset(large, 1, STORE_PAPER_MAX); /* six bytes each as JSON */
    p.n = STORE_PAPER_MAX;
    tap_ok(store_keep(store, &p, &is_new, &f) == ERR_LIMIT, "one that JSON makes too large: %s",
           f.message);
    p.text = "a\0b";
    p.n = 3;
    tap_ok(store_keep(store, &p, &is_new, &f) == ERR_ENCODING, "one with a NUL: %s", f.message);
    p.text = "\xff";
    p.n = 1;
    tap_ok(store_keep(store, &p, &is_new, &f) == ERR_ENCODING, "one that is not UTF-8: %s",
           f.message);
    p.n = 0;
    tap_ok(store_keep(store, &p, &is_new, &f) == ERR_EMPTY, "an empty one: %s", f.message);
    p.text = "abc";
    p.n = 3;
    p.kind = NULL;
    tap_ok(store_keep(store, &p, &is_new, &f) == ERR_EMPTY && strcmp(f.path, "kind") == 0,
           "one of no kind: %s", f.message);
    p.kind = "keys";
    p.at_ms = -1;
    tap_ok(store_keep(store, &p, &is_new, &f) == ERR_DOMAIN, "one of before 1970: %s", f.message);
    const struct store_counts after = counts();
    tap_ok(memcmp(&before, &after, sizeof before) == 0, "after all of these nothing was kept");
    p.at_ms = 1;
    must(store_keep(store, &p, &is_new, &f), &f, "keep");
    /* FIPS 180-4, example of SHA-256("abc"). */
    char hex[DIGEST_HEX_ROOM];
    digest_hex(p.sha256, STORE_DIGEST, hex);
    tap_ok(strcmp(hex, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad") == 0,
           "a paper's digest is that of its text: %.12s...", hex);
    const int64_t seq = p.seq;
    p.seq = 0;
    must(store_keep(store, &p, &is_new, &f), &f, "keep");
    tap_ok(!is_new && p.seq == seq && seq == counts().entries, "and it is told where it stands");
    tap_ok(is_good(), "the store is whole");
    free(large);
}

/* ---- the build list -------------------------------------------------------------------------- */

static bool list_build(void *me, const struct store_build *b)
{
    text_printf(me, "%s %s %s|", b->vin, b->station, b->label != NULL ? b->label : "-");
    return true;
}

static const char *builds(const char *vin)
{
    static struct text t;
    struct fault f = {0};
    text_clear(&t);
    must(store_builds(store, vin, list_build, &t, &f), &f, "builds");
    return t.size > 0 ? t.data : "";
}

static void check_builds(void)
{
    const struct store_build first[] = {
        {"V2", "fore", "C2-2024-W19"}, {"V1", "aft", ""}, {"V1", "fore", "C2-2024-W20"}};
    const struct store_build twice[] = {{"V1", "fore", "x"}, {"V1", "fore", "C2-2024-W20"}};
    const struct store_build other = {"V1", "fore", NULL};
    struct fault f = {0};
    const int64_t n = counts().entries;
    must(store_build_put(store, first, 3, 1770000000000, &f), &f, "builds");
    is_list(builds(NULL), "V1 aft -|V1 fore C2-2024-W20|V2 fore C2-2024-W19|",
            "by VIN and station");
    is_list(builds("V1"), "V1 aft -|V1 fore C2-2024-W20|", "of one unit");
    is_list(builds("V3"), "", "of a unit that is not there");
    must(store_build_put(store, first, 3, 1770000000009, &f), &f, "builds");
    tap_ok(counts().entries == n + 1, "the same list again adds nothing to the log");
    must(store_build_put(store, twice, 2, 1770000000010, &f), &f, "builds");
    is_list(builds("V1"), "V1 aft -|V1 fore C2-2024-W20|",
            "of two rows for one station the last holds");
    must(store_build_put(store, &other, 1, 1770000000011, &f), &f, "builds");
    is_list(builds("V1"), "V1 aft -|V1 fore -|", "a later row replaces an earlier one");
    must(store_build_put(store, NULL, 0, 1770000000011, &f), &f, "builds");
    tap_ok(counts().builds == 3 && counts().entries == n + 3, "three rows are counted");
    const struct store_build bad[] = {{"V9", "fore", NULL}, {"V9", NULL, NULL}};
    tap_ok(store_build_put(store, bad, 2, 1, &f) == ERR_EMPTY &&
               strcmp(f.path, "builds[1].station") == 0,
           "a row without a station: %s: %s", f.path, f.message);
    tap_ok(store_build_put(store, first, STORE_BUILDS_AT_ONCE + 1, 1, &f) == ERR_LIMIT,
           "more rows than at once: %s", f.message);
    tap_ok(store_build_put(store, bad, 1, -1, &f) == ERR_DOMAIN, "a time before 1970: %s",
           f.message);
    is_list(builds("V9"), "", "after these nothing was put");
    static struct store_build many[STORE_BUILDS_AT_ONCE];
    static char vins[STORE_BUILDS_AT_ONCE][16];
    for (int i = 0; i < STORE_BUILDS_AT_ONCE; i++) {
        snprintf(vins[i], sizeof vins[i], "M%06d", i);
        many[i] = (struct store_build){vins[i], "fore", "C2-2024-W19"};
    }
    must(store_build_put(store, many, STORE_BUILDS_AT_ONCE, 1770000000012, &f), &f, "builds");
    tap_ok(counts().builds == 3 + STORE_BUILDS_AT_ONCE && counts().entries == n + 4,
           "as many as at once are one entry");
    tap_ok(is_good(), "the store is whole");
    /* Rows go into the table many at a time and the rest one by one: told twice within the first, across them, and in the rest. */
    many[4] = (struct store_build){vins[2], "fore", "4"};
    many[21] = (struct store_build){vins[3], "fore", "21"};
    many[46] = (struct store_build){vins[45], "fore", NULL};
    must(store_build_put(store, many, 47, 1770000000013, &f), &f, "builds");
    tap_ok(strcmp(builds(vins[2]), "M000002 fore 4|") == 0 &&
               strcmp(builds(vins[3]), "M000003 fore 21|") == 0 &&
               strcmp(builds(vins[45]), "M000045 fore -|") == 0 &&
               counts().builds == 3 + STORE_BUILDS_AT_ONCE,
           "of a unit told twice in a long list the last row holds");
    tap_ok(is_good(), "and that is what the log says");
}

/* ---- keeping --------------------------------------------------------------------------------- */

static void check_again(void)
{
    struct fault f = {0};
    struct store_counts copied = {0};
    struct store *mine = store;
    int64_t n = 0;
    char dest[320], *before = strdup(papers("shops", NULL, true));
    must(store_rebuild(store, NULL, &n, &f), &f, "rebuild");
    tap_ok(is_good() && strcmp(before, papers("shops", NULL, true)) == 0 &&
               strcmp(builds("V1"), "V1 aft -|V1 fore -|") == 0,
           "rebuilt, papers and builds are what they were");
    snprintf(dest, sizeof dest, "%s/copy", folder);
    must(store_backup(store, dest, NULL, &copied, &f), &f, "backup");
    must(store_open(dest, STORE_READ, &store, &f), &f, "open");
    tap_ok(copied.papers == counts().papers && is_good() &&
               strcmp(before, papers("shops", NULL, true)) == 0,
           "a backup has them too");
    struct store_paper p = {"keys", "ring", STORE_UNKNOWN, 1, "k", 1, {0}, 0, NULL};
    const struct store_build b = {"V", "fore", NULL};
    bool is_new;
    tap_ok(store_keep(store, &p, &is_new, &f) == ERR_IO &&
               store_build_put(store, &b, 1, 1, &f) == ERR_IO,
           "opened to read nothing is kept: %s", f.message);
    store_close(store);
    store = mine;
    free(before);
}

/* A callback that writes is our own bug; it may not break the reading. */
static bool write_inside(void *me, const struct store_build *b)
{
    struct fault f = {0};
    const struct store_build other = {"W", "fore", NULL};
    (void)b;
    static struct store_health h;
    struct store_counts c;
    return ++*(int *)me < 3 && store_build_put(store, &other, 1, 1, &f) == ERR_IO &&
           store_verify(store, NULL, NULL, &h, &f) == ERR_IO &&
           store_backup(store, "/nonexistent/copy", NULL, &c, &f) == ERR_IO;
}

static void check_inside(void)
{
    struct fault f = {0};
    int n = 0;
    must(store_builds(store, NULL, write_inside, &n, &f), &f, "builds");
    tap_ok(n == 3, "who reads may not write, verify or copy meanwhile, and goes on reading");
}

int main(void)
{
    struct fault f = {0};
    bool is_made;
    synth_folder(folder);
    synth_store(folder, path, sizeof path);
    must(store_init(path, &is_made, &f), &f, "init");
    must(store_open(path, STORE_WRITE, &store, &f), &f, "open");
    check_papers();
    check_texts();
    check_builds();
    check_again();
    check_inside();
    store_close(store);
    synth_remove(folder);
    return tap_done();
}
