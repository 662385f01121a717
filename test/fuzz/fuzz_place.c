/* fuzz_place: any text as the word that names a store. Properties:
 *   place_find keeps to its rooms; a server's address is one that begins with its scheme;
 *   what is shown of an address has no user and no option but the schema: nothing from before the last @, nothing from behind ?;
 *   an address that was taken holds no user with a colon, and none of the options password and sslpassword in plain letters;
 *   of a place that was found, place_server gives a schema of small letters, digits and _ that a quoted name can hold, and an address
 *   for libpq that is no longer than the word and has none of our options; an object store's names are made of signs that need no
 *   encoding, and it is asked over TLS or on this machine. */
#include "store/place.h"

#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void expect(bool holds)
{
    if (!holds)
        abort();
}

static void check_server(const struct place *p, const char *word)
{
    char *uri = NULL, schema[64];
    int64_t part = 0;
    struct fault f = {0};
    if (place_server(p->db, &uri, schema, &part, &f) != ERR_OK)
        return;
    expect(schema[0] >= 'a' && schema[0] <= 'z' && strlen(schema) < sizeof schema &&
           strspn(schema, "abcdefghijklmnopqrstuvwxyz0123456789_") == strlen(schema));
    expect(part >= 10);
    expect(strlen(uri) <= strlen(word) && place_is_server(uri) && strchr(uri, '#') == NULL);
    for (const char *at = strchr(uri, '?'); at != NULL; at = strchr(at + 1, '&'))
        expect(strncmp(at + 1, "files=", 6) != 0 && strncmp(at + 1, "schema=", 7) != 0 &&
               strncmp(at + 1, "log_part=", 9) != 0 && strncmp(at + 1, "photos=", 7) != 0 &&
               strncmp(at + 1, "s3_endpoint=", 12) != 0 && strncmp(at + 1, "s3_ca=", 6) != 0);
    free(uri);
}

/* What an object store is asked by stands in an address and in a signature as it is. */
static void check_s3(const struct place_s3 *s)
{
    static const char plain[] =
        "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789._-/";
    if (!s->is_used)
        return;
    expect(strlen(s->bucket) >= 3 && strspn(s->bucket, plain) == strlen(s->bucket) &&
           strchr(s->bucket, '/') == NULL);
    expect(strspn(s->prefix, plain) == strlen(s->prefix) && s->prefix[0] != '/' &&
           strstr(s->prefix, "//") == NULL && strstr(s->prefix, "/../") == NULL);
    expect(strchr(s->endpoint, '@') == NULL && strchr(s->endpoint, '?') == NULL);
    expect(strncmp(s->endpoint, "https://", 8) == 0 ||
           strncmp(s->endpoint, "http://127.0.0.1", 16) == 0 ||
           strncmp(s->endpoint, "http://localhost", 16) == 0 ||
           strncmp(s->endpoint, "http://[::1]", 12) == 0);
    expect(s->region[0] != '\0' && s->wait_s >= 1 && s->wait_s <= 600);
}

static void check_shown(const struct place *p, const char *word)
{
    const size_t n = strcspn(word, "?#");
    const char *at = NULL;
    for (size_t i = 0; i < n; i++)
        if (word[i] == '@')
            at = word + i;
    expect(strncmp(p->shown, "postgresql://", 13) == 0);
    expect(at == NULL || strchr(p->shown, '@') == NULL);
    expect(strchr(p->shown, '?') == NULL || strchr(word, '?') == NULL);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const char *const names[] = {"store.db", "people.db", "jobs.db"};
    static struct place p;
    struct fault f = {0};
    if (size > PLACE_ROOM)
        return 0;
    char *word = malloc(size + 1);
    expect(word != NULL);
    memcpy(word, data, size);
    word[size] = '\0';
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        const enum err err = place_find(word, names[i], &p, &f);
        expect(p.is_server == place_is_server(word));
        expect(strlen(p.files) < sizeof p.files && strlen(p.db) < sizeof p.db &&
               strlen(p.shown) < sizeof p.shown);
        if (p.is_server)
            check_shown(&p, word);
        if (err != ERR_OK)
            continue;
        expect(p.files[0] != '\0' && p.db[0] != '\0');
        if (p.is_server) {
            for (const char *at = strchr(word, '?'); at != NULL; at = strchr(at + 1, '&'))
                expect(strncmp(at + 1, "password=", 9) != 0 &&
                       strncmp(at + 1, "sslpassword=", 12) != 0);
            check_server(&p, word);
            check_s3(&p.s3);
        }
    }
    free(word);
    return 0;
}
