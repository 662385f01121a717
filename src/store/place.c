/* place: owns what the word that names a store means. */
#include "store/place.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { LOG_PART = 1000000, LOG_PART_LEAST = 10 };

static const char *behind_scheme(const char *store)
{
    static const char *const schemes[] = {"postgresql://", "postgres://"};
    for (size_t i = 0; i < sizeof schemes / sizeof *schemes; i++)
        if (strncmp(store, schemes[i], strlen(schemes[i])) == 0)
            return store + strlen(schemes[i]);
    return NULL;
}

bool place_is_server(const char *store)
{
    return behind_scheme(store) != NULL;
}

/* ---- pieces of an address ------------------------------------------------------------------ */

static int hex_digit(char c)
{
    static const char digits[] = "0123456789abcdef";
    const char small = c >= 'A' && c <= 'F' ? (char)(c - 'A' + 'a') : c;
    const char *at = small != '\0' ? strchr(digits, small) : NULL;
    return at != NULL ? (int)(at - digits) : -1;
}

/* n bytes with %XX as a text; false: too long, or no such sign. */
static bool decode(const char *s, size_t n, char *ret, size_t room)
{
    size_t used = 0;
    for (size_t i = 0; i < n; i++) {
        char c = s[i];
        if (c == '%') {
            const int high = i + 2 < n ? hex_digit(s[i + 1]) : -1;
            const int low = i + 2 < n ? hex_digit(s[i + 2]) : -1;
            if (high < 0 || low < 0 || high + low == 0)
                return false;
            c = (char)(16 * high + low);
            i += 2;
        }
        if (used + 1 >= room)
            return false;
        ret[used++] = c;
    }
    ret[used] = '\0';
    return true;
}

/* The value of an option behind the ?; NULL: not there. */
static const char *option(const char *store, const char *name, size_t *ret_n)
{
    const size_t n = strlen(name);
    const char *at = strchr(store, '?');
    while (at != NULL) {
        const size_t size = strcspn(at + 1, "&#");
        if (size > n && strncmp(at + 1, name, n) == 0 && at[1 + n] == '=') {
            *ret_n = size - n - 1;
            return at + n + 2;
        }
        at = at[1 + size] == '&' ? at + 1 + size : NULL;
    }
    return NULL;
}

static bool is_ours(const char *s)
{
    static const char *const words[] = {"files=",       "schema=",    "log_part=", "photos=",
                                        "s3_endpoint=", "s3_region=", "s3_ca=",    "s3_wait="};
    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (strncmp(s, words[i], strlen(words[i])) == 0)
            return true;
    return false;
}

/* Where the user ends and the host begins. A password that is written as it should not be is still no part of the host. */
static const char *host_of(const char *store)
{
    const char *start = behind_scheme(store), *host = start;
    for (const char *s = start; *s != '\0' && *s != '?' && *s != '#'; s++)
        if (*s == '@')
            host = s + 1;
    return host;
}

static bool is_schema(const char *s)
{
    return s[0] >= 'a' && s[0] <= 'z' && strlen(s) <= PLACE_SCHEMA_MAX &&
           strspn(s, "abcdefghijklmnopqrstuvwxyz0123456789_") == strlen(s);
}

static void show(const char *store, char ret[FAULT_FILE_MAX])
{
    const char *host = host_of(store);
    char schema[PLACE_SCHEMA_MAX + 2] = "";
    size_t n = 0;
    const char *value = option(store, "schema", &n);
    if (value != NULL && (!decode(value, n, schema, sizeof schema) || !is_schema(schema)))
        schema[0] = '\0'; /* whatever it is, it is refused later */
    snprintf(ret, FAULT_FILE_MAX, "postgresql://%.*s%s%s", (int)strcspn(host, "?#"), host,
             schema[0] != '\0' ? " " : "", schema);
}

static enum err refuse_password(const char *store, struct fault *f)
{
    const char *start = behind_scheme(store), *host = host_of(store);
    size_t n = 0;
    if (memchr(start, ':', (size_t)(host - start)) == NULL &&
        option(store, "password", &n) == NULL && option(store, "sslpassword", &n) == NULL)
        return ERR_OK;
    return fault_set(f, ERR_DOMAIN,
                     "the address holds a password, which everyone on this machine could see; put "
                     "it into a password file (PGPASSFILE) or a service file");
}

/* ---- an object store ----------------------------------------------------------------------- */

enum { WAIT_S = 20, WAIT_MOST_S = 600 };

#define SMALL "abcdefghijklmnopqrstuvwxyz0123456789"
#define PLAIN SMALL "ABCDEFGHIJKLMNOPQRSTUVWXYZ._-"

static bool is_made_of(const char *s, size_t n, const char *signs)
{
    return n > 0 && strspn(s, signs) >= n;
}

/* Names with / between; "." and ".." would be another key by the time they arrive. */
static bool is_prefix(const char *s)
{
    while (*s != '\0') {
        const size_t n = strcspn(s, "/");
        if (!is_made_of(s, n, PLAIN) || strspn(s, ".") >= n || (s[n] == '/' && s[n + 1] == '\0'))
            return false;
        s += n + (s[n] == '/');
    }
    return true;
}

/* One option; "" when it is not there. */
static enum err take_option(const char *store, const char *name, char *ret, size_t room,
                            struct fault *f)
{
    size_t n = 0;
    const char *value = option(store, name, &n);
    ret[0] = '\0';
    if (value == NULL || decode(value, n, ret, room))
        return ERR_OK;
    return fault_set(f, ERR_SYNTAX, "the address's %s= is too long or holds no text", name);
}

static enum err take_bucket(const char *store, struct place_s3 *ret, struct fault *f)
{
    static const char scheme[] = "s3://";
    char photos[PLACE_BUCKET_MAX + PLACE_PREFIX_MAX + 8];
    const enum err err = take_option(store, "photos", photos, sizeof photos, f);
    if (err != ERR_OK || photos[0] == '\0')
        return err;
    const char *bucket = photos + sizeof scheme - 1;
    const size_t n =
        strncmp(photos, scheme, sizeof scheme - 1) == 0 ? strcspn(bucket, "/") : (size_t)0;
    const char *prefix = n > 0 ? bucket + n + (bucket[n] == '/') : "";
    if (n < 3 || n >= PLACE_BUCKET_MAX || !is_made_of(bucket, n, SMALL ".-") || bucket[0] == '.' ||
        strlen(prefix) >= PLACE_PREFIX_MAX || !is_prefix(prefix))
        return fault_set(
            f, ERR_SYNTAX,
            "found photos=%.80s; expected s3://BUCKET or s3://BUCKET/PREFIX, the bucket "
            "of small letters, digits, . and -",
            photos);
    snprintf(ret->bucket, sizeof ret->bucket, "%.*s", (int)n, bucket);
    snprintf(ret->prefix, sizeof ret->prefix, "%.*s", PLACE_PREFIX_MAX - 1, prefix);
    ret->is_used = true;
    return ERR_OK;
}

/* What reaches no further than this machine may go without TLS. */
static bool is_loopback(const char *host)
{
    static const char *const names[] = {"127.0.0.1", "localhost", "[::1]"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        const size_t n = strlen(names[i]);
        if (strncmp(host, names[i], n) == 0 && (host[n] == '\0' || host[n] == ':'))
            return true;
    }
    return false;
}

static enum err take_endpoint(const char *store, struct place_s3 *ret, struct fault *f)
{
    const enum err err = take_option(store, "s3_endpoint", ret->endpoint, sizeof ret->endpoint, f);
    if (err != ERR_OK)
        return err;
    const bool is_tls = strncmp(ret->endpoint, "https://", 8) == 0;
    const bool is_open = strncmp(ret->endpoint, "http://", 7) == 0;
    const char *host = ret->endpoint + (is_tls ? 8 : is_open ? 7 : 0);
    if (strchr(host, '@') != NULL)
        return fault_set(f, ERR_DOMAIN,
                         "s3_endpoint= holds a name or password, which everyone on this machine "
                         "could see; the key belongs into a file (MENDWRIGHT_S3_FILE)");
    if ((!is_tls && !is_open) || !is_made_of(host, strlen(host), PLAIN ":[]"))
        return fault_set(f, ERR_SYNTAX,
                         "found s3_endpoint=%.80s; expected https://HOST or https://HOST:PORT",
                         ret->endpoint);
    if (is_open && !is_loopback(host))
        return fault_set(f, ERR_DOMAIN,
                         "s3_endpoint=%.80s would send photos over the network for everyone to "
                         "read; expected https://",
                         ret->endpoint);
    return ERR_OK;
}

static enum err take_s3(const char *store, struct place_s3 *ret, struct fault *f)
{
    char wait[16], *rest = wait;
    enum err err = take_bucket(store, ret, f);
    if (err != ERR_OK || !ret->is_used)
        return err;
    err = take_endpoint(store, ret, f);
    if (err == ERR_OK)
        err = take_option(store, "s3_region", ret->region, sizeof ret->region, f);
    if (err == ERR_OK)
        err = take_option(store, "s3_ca", ret->ca, sizeof ret->ca, f);
    if (err == ERR_OK)
        err = take_option(store, "s3_wait", wait, sizeof wait, f);
    if (err != ERR_OK)
        return err;
    if (ret->region[0] == '\0') /* what servers that know no regions expect (common practice) */
        snprintf(ret->region, sizeof ret->region, "us-east-1");
    if (!is_made_of(ret->region, strlen(ret->region), SMALL "-"))
        return fault_set(f, ERR_SYNTAX,
                         "found s3_region=%.60s; expected small letters, digits and -",
                         ret->region);
    const long wait_s = wait[0] != '\0' ? strtol(wait, &rest, 10) : WAIT_S;
    if (*rest != '\0' || wait_s < 1 || wait_s > WAIT_MOST_S)
        return fault_set(f, ERR_SYNTAX, "found s3_wait=%.15s; expected 1 to %d seconds", wait,
                         (int)WAIT_MOST_S);
    ret->wait_s = (int)wait_s;
    return ERR_OK;
}

/* ---- finding ------------------------------------------------------------------------------- */

static enum err take_files(const char *path, char ret[FILES_PATH_MAX], struct fault *f)
{
    size_t n = strlen(path);
    while (n > 1 && path[n - 1] == '/')
        n--;
    if (n == 0)
        return fault_set(f, ERR_OPEN, "the store's name is empty");
    if (n >= FILES_PATH_MAX - 128) /* room for photos/ and a name below it */
        return fault_set(f, ERR_LIMIT, "the store's path is longer than %d bytes",
                         FILES_PATH_MAX - 129);
    snprintf(ret, FILES_PATH_MAX, "%.*s", (int)n, path);
    return ERR_OK;
}

static enum err find_server(const char *store, const char *name, struct place *ret, struct fault *f)
{
    char files[FILES_PATH_MAX];
    size_t n = 0;
    const enum err err = refuse_password(store, f);
    if (err != ERR_OK)
        return err;
    if (strchr(store, '#') != NULL)
        return fault_set(f, ERR_SYNTAX, "found # in the address; expected %%23 for it");
    const char *value = option(store, "files", &n);
    if (value == NULL || n == 0)
        return fault_set(f, ERR_OPEN,
                         "the address does not say where photos lie; expected ?files=FOLDER at its "
                         "end");
    if (!decode(value, n, files, sizeof files))
        return fault_set(f, ERR_SYNTAX, "the address's files= is no folder's name");
    const bool is_log = strcmp(name, "store.db") == 0;
    const int size = snprintf(ret->db, sizeof ret->db, "%s%s%.*s", store, is_log ? "" : "#",
                              is_log ? 0 : (int)strcspn(name, "."), name);
    if (size >= (int)sizeof ret->db)
        return fault_set(f, ERR_LIMIT, "the store's address is longer than %d bytes",
                         (int)sizeof ret->db - 16);
    const enum err bad = take_s3(store, &ret->s3, f);
    return bad != ERR_OK ? bad : take_files(files, ret->files, f);
}

enum err place_find(const char *store, const char *name, struct place *ret, struct fault *reterr)
{
    ret->is_server = place_is_server(store);
    ret->files[0] = ret->db[0] = ret->shown[0] = '\0';
    ret->s3 = (struct place_s3){0};
    if (ret->is_server) {
        show(store, ret->shown);
        return find_server(store, name, ret, reterr);
    }
    const enum err err = take_files(store, ret->files, reterr);
    snprintf(ret->shown, sizeof ret->shown, "%.*s", FAULT_FILE_MAX - 1, ret->files);
    if (err == ERR_OK)
        snprintf(ret->db, sizeof ret->db, "%s/%s", ret->files, name);
    return err;
}

/* ---- a server's ---------------------------------------------------------------------------- */

/* The address without what is ours in it. */
static char *strip(const char *db)
{
    char *uri = malloc(strlen(db) + 1);
    size_t used = strcspn(db, "?#");
    char sign = '?';
    if (uri == NULL)
        return NULL;
    memcpy(uri, db, used);
    for (const char *at = db + used; *at == '?' || *at == '&';) {
        const size_t n = strcspn(at + 1, "&#");
        if (n > 0 && !is_ours(at + 1)) {
            uri[used++] = sign;
            memcpy(uri + used, at + 1, n);
            used += n;
            sign = '&';
        }
        at += 1 + n;
    }
    uri[used] = '\0';
    return uri;
}

enum err place_server(const char *db, char **ret_uri, char ret_schema[64], int64_t *ret_log_part,
                      struct fault *reterr)
{
    char name[PLACE_SCHEMA_MAX + 2] = "mendwright", part[24];
    size_t n = 0;
    const char *end = strchr(db, '#');
    const char *value = option(db, "schema", &n);
    if (value != NULL && (!decode(value, n, name, sizeof name) || !is_schema(name)))
        return fault_set(reterr, ERR_SYNTAX,
                         "found schema=%.*s; expected at most %d small letters, digits and _, a "
                         "letter first",
                         (int)(n < 60 ? n : 60), value, (int)PLACE_SCHEMA_MAX);
    snprintf(ret_schema, 64, "%s%s%.8s", name, end != NULL ? "_" : "", end != NULL ? end + 1 : "");
    *ret_log_part = LOG_PART;
    value = option(db, "log_part", &n);
    if (value != NULL) {
        char *rest = part;
        const bool is_short = decode(value, n, part, sizeof part);
        *ret_log_part = is_short ? strtoll(part, &rest, 10) : 0;
        if (rest == part || *rest != '\0' || *ret_log_part < LOG_PART_LEAST)
            return fault_set(reterr, ERR_SYNTAX,
                             "found log_part=%.*s; expected a whole number, %d or more",
                             (int)(n < 40 ? n : 40), value, (int)LOG_PART_LEAST);
    }
    *ret_uri = strip(db);
    return *ret_uri != NULL ? ERR_OK : fault_no_memory(reterr);
}

/* Adds the store's option to the address where that has none of the name. */
static bool take_over(const char *store, const char *name, char *buf, size_t room)
{
    size_t n = 0, unused = 0;
    const char *value = option(store, name, &n);
    const size_t used = strlen(buf);
    if (value == NULL || option(buf, name, &unused) != NULL)
        return true;
    const int size = snprintf(buf + used, room - used, "%c%s=%.*s",
                              strchr(buf, '?') != NULL ? '&' : '?', name, (int)n, value);
    return size >= 0 && (size_t)size < room - used;
}

enum err place_near(const char *store, const char *from, char *buf, size_t room,
                    struct fault *reterr)
{
    if (!place_is_server(store) || !place_is_server(from))
        return fault_set(reterr, ERR_SYNTAX,
                         "a standby is of a store in PostgreSQL; expected postgresql://... for "
                         "both the store and --read-from");
    const int size = snprintf(buf, room, "%s", from);
    if (size < 0 || (size_t)size >= room || !take_over(store, "files", buf, room) ||
        !take_over(store, "schema", buf, room))
        return fault_set(reterr, ERR_LIMIT, "the standby's address is too long");
    return ERR_OK;
}
