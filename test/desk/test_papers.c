/* papers: what is kept, under which name, and what is refused before it reaches the log. Digests are those of Debian's sha256sum,
 * asked while the test runs. */
#include "base/text.h"
#include "desk/papers.h"

#include "tap.h"

#include <stdlib.h>
#include <string.h>

#define ROOT TEST_TABLES "/../../"

static char folder[] = "/tmp/mendwright-test-papers-XXXXXX";
static struct store *store;

static const char *in_folder(const char *name)
{
    static char path[128];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

static void write_file(const char *name, const char *text)
{
    FILE *f = fopen(in_folder(name), "wb");
    if (f == NULL || fputs(text, f) < 0 || fclose(f) != 0) {
        printf("Bail out! cannot write %s\n", name);
        exit(2);
    }
}

static int64_t n_papers(void)
{
    struct store_counts c = {0};
    struct fault f = {0};
    return store_count(store, &c, &f) == ERR_OK ? c.papers : -1;
}

static enum err keep(enum paper_kind kind, const char *path, const char *name, int64_t revision,
                     struct paper_answer *a, struct fault *f)
{
    struct fault_list faults = {0};
    const struct paper_order order = {kind, path, name, revision, 1770000000000};
    *f = (struct fault){0};
    *a = (struct paper_answer){0};
    const enum err e = paper_keep(store, &order, &faults, a, f);
    fault_list_done(&faults);
    return e;
}

static bool has_digest(const char *path, const uint8_t sum[STORE_DIGEST])
{
    char command[200], found[80] = "", hex[DIGEST_HEX_ROOM];
    snprintf(command, sizeof command, "sha256sum < %s", path);
    FILE *p = popen(command, "r");
    const bool is_read = p != NULL && fgets(found, sizeof found, p) != NULL;
    if (p != NULL)
        pclose(p);
    digest_hex(sum, STORE_DIGEST, hex);
    return is_read && strncmp(found, hex, 64) == 0;
}

static void bulletins(void)
{
    struct paper_answer a;
    struct fault f;
    const char *path = ROOT "examples/OV-26-03.yaml";
    tap_ok(keep(PAPER_BULLETIN, path, NULL, STORE_UNKNOWN, &a, &f) == ERR_OK && a.is_new &&
               strcmp(a.name, "OV-26-03") == 0 && a.revision == 2 && has_digest(path, a.sha256),
           "the example bulletin is kept under its own id and revision %s", f.message);
    tap_ok(keep(PAPER_BULLETIN, path, NULL, STORE_UNKNOWN, &a, &f) == ERR_OK && !a.is_new &&
               n_papers() == 1,
           "kept again: the same one holds");
    tap_ok(keep(PAPER_BULLETIN, path, "other", STORE_UNKNOWN, &a, &f) == ERR_AMBIGUOUS,
           "under another name: %s", f.message);
    tap_ok(keep(PAPER_BULLETIN, path, NULL, 7, &a, &f) == ERR_AMBIGUOUS, "as another revision");
    write_file("bad.yaml", "bulletin:\n  id: X-1\n");
    tap_ok(keep(PAPER_BULLETIN, in_folder("bad.yaml"), NULL, STORE_UNKNOWN, &a, &f) == ERR_DOMAIN &&
               f.line > 0,
           "one with faults: %s", f.message);
    write_file("no.yaml", "[\n");
    tap_ok(keep(PAPER_BULLETIN, in_folder("no.yaml"), NULL, STORE_UNKNOWN, &a, &f) == ERR_SYNTAX,
           "no YAML: %s", f.message);
    write_file("empty", "");
    tap_ok(keep(PAPER_BULLETIN, in_folder("empty"), NULL, STORE_UNKNOWN, &a, &f) != ERR_OK &&
               f.message[0] != '\0',
           "nothing: %s", f.message);
    tap_ok(n_papers() == 1, "none of these was kept");
}

static void shops(void)
{
    struct paper_answer a;
    struct fault f;
    write_file("shops.csv", "shop,kind,rate\nfern,shop,68.00\nal,owner,\n");
    tap_ok(keep(PAPER_SHOPS, in_folder("shops.csv"), NULL, STORE_UNKNOWN, &a, &f) == ERR_OK &&
               a.is_new && a.n == 2 && strcmp(a.name, "shops") == 0 &&
               a.revision == STORE_UNKNOWN && has_digest(in_folder("shops.csv"), a.sha256),
           "a list of two shops is kept as \"shops\"");
    tap_ok(keep(PAPER_SHOPS, in_folder("shops.csv"), "north", 3, &a, &f) == ERR_OK && a.is_new &&
               strcmp(a.name, "north") == 0 && a.revision == 3,
           "and under a name and a number of its own");
    write_file("dinar.csv", "shop,kind,rate\nfern,shop,21.250\n");
    tap_ok(keep(PAPER_SHOPS, in_folder("dinar.csv"), NULL, STORE_UNKNOWN, &a, &f) == ERR_OK,
           "rates of three decimals");
    const int64_t n = n_papers();
    write_file("mixed.csv", "shop,kind,rate\nfern,shop,21.250\nal,shop,68.00\n");
    tap_ok(keep(PAPER_SHOPS, in_folder("mixed.csv"), NULL, STORE_UNKNOWN, &a, &f) == ERR_DOMAIN &&
               f.line == 2,
           "of two and of three in one list: %s", f.message);
    write_file("kind.csv", "shop,kind\nfern,garage\n");
    tap_ok(keep(PAPER_SHOPS, in_folder("kind.csv"), NULL, STORE_UNKNOWN, &a, &f) == ERR_UNKNOWN &&
               f.line == 2 && f.column == 6,
           "an unknown kind: %s", f.message);
    tap_ok(keep(PAPER_SHOPS, in_folder("none.csv"), NULL, STORE_UNKNOWN, &a, &f) == ERR_OPEN,
           "a file that is not there");
    tap_ok(n_papers() == n, "none of these was kept");
}

static void keys(void)
{
    /* The public keys of RFC 8032, section 7.1, tests 1 and 2. */
    static const char ring[] =
        "# invented shops\nfern d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a\n"
        "al 3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c\n";
    struct paper_answer a;
    struct fault f;
    write_file("ring", ring);
    tap_ok(keep(PAPER_KEYS, in_folder("ring"), NULL, STORE_UNKNOWN, &a, &f) == ERR_OK && a.is_new &&
               a.n == 2 && strcmp(a.name, "keys") == 0,
           "a keyring of two %s", f.message);
    const int64_t n = n_papers();
    write_file("bad", "fern 1234\n");
    tap_ok(keep(PAPER_KEYS, in_folder("bad"), NULL, STORE_UNKNOWN, &a, &f) == ERR_SYNTAX &&
               f.line == 1,
           "no key: %s", f.message);
    write_file("none", "# nobody\n");
    tap_ok(keep(PAPER_KEYS, in_folder("none"), NULL, STORE_UNKNOWN, &a, &f) == ERR_EMPTY,
           "a ring of nobody: %s", f.message);
    write_file("secret",
               "secret fern 9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60\n");
    tap_ok(keep(PAPER_KEYS, in_folder("secret"), NULL, STORE_UNKNOWN, &a, &f) == ERR_SYNTAX,
           "a secret key is not put where everybody can read it: %s", f.message);
    tap_ok(n_papers() == n, "none of these was kept");
}

int main(void)
{
    struct fault f = {0};
    bool is_made = false;
    char path[80], command[120];
    if (mkdtemp(folder) == NULL)
        return 2;
    snprintf(path, sizeof path, "%s/claims", folder);
    if (store_init(path, &is_made, &f) != ERR_OK ||
        store_open(path, STORE_WRITE, &store, &f) != ERR_OK) {
        printf("Bail out! %s\n", f.message);
        return 2;
    }
    bulletins();
    shops();
    keys();
    store_close(store);
    snprintf(command, sizeof command, "rm -r %s", folder);
    if (system(command) != 0)
        tap_note("%s is left behind", folder);
    return tap_done();
}
