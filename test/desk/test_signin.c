/* Who may come in: roles, passwords, one-time links, sessions, and the slowing down of guesses. */
#include "desk/signin.h"
#include "proof/sign_secret.h"
#include "tap.h"

#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define DAY_MS ((int64_t)86400000)
static const int64_t t0 = 1770000000000;

struct bench {
    char folder[64], file[80];
    struct signin_guard *guard;
    struct signin *s;
};

static bool open_bench(struct bench *b)
{
    struct fault f = {0};
    snprintf(b->folder, sizeof b->folder, "/tmp/mendwright-signin-XXXXXX");
    if (mkdtemp(b->folder) == NULL)
        return false;
    snprintf(b->file, sizeof b->file, "%s/people.db", b->folder);
    b->guard = signin_guard_new();
    return b->guard != NULL && signin_open(b->folder, b->guard, &b->s, &f) == ERR_OK;
}

static void close_bench(struct bench *b)
{
    static const char *const ends[] = {"", "-wal", "-shm"};
    char path[96];
    signin_close(b->s);
    signin_guard_free(b->guard);
    for (size_t i = 0; i < 3; i++) {
        snprintf(path, sizeof path, "%s%s", b->file, ends[i]);
        unlink(path);
    }
    rmdir(b->folder);
}

static void check_secret(void)
{
    char a[SECRET_HASH_ROOM], b[SECRET_HASH_ROOM], token[SECRET_TOKEN_ROOM],
        other[SECRET_TOKEN_ROOM];
    const char *word = "correct horse battery";
    tap_ok(secret_hash(word, strlen(word), a) == ERR_OK &&
               secret_hash(word, strlen(word), b) == ERR_OK && strcmp(a, b) != 0,
           "the same password hashes otherwise each time (a salt of its own; RFC 9106, 3.1)");
    tap_ok(strncmp(a, "$argon2id$v=19$m=", 17) == 0,
           "the hash names Argon2id, version 0x13 (RFC 9106, 3.2), and what it costs (PHC string "
           "format, from memory)");
    tap_ok(strtol(a + 17, NULL, 10) >= 65536,
           "it takes at least 64 MiB (RFC 9106, section 4, second recommended option)");
    tap_ok(secret_holds(a, word, strlen(word)), "the password holds");
    tap_ok(!secret_holds(a, "correct horse batterz", strlen(word)), "another does not");
    tap_ok(!secret_holds("", word, strlen(word)) && !secret_holds("$argon2id$", word, strlen(word)),
           "a hash that is none never holds");
    tap_ok(secret_hash("short", 5, a) == ERR_LIMIT, "a password of five characters is refused");
    tap_ok(
        secret_token(token) == ERR_OK && secret_token(other) == ERR_OK &&
            strcmp(token, other) != 0 && strlen(token) == 43 &&
            strspn(token, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_") == 43,
        "a token is 43 characters of base64url (RFC 4648, section 5: 256 bits need ceil(256/6))");
}

static void check_people(struct bench *b)
{
    struct fault f = {0};
    struct stat st;
    tap_ok(stat(b->file, &st) == 0 && (st.st_mode & 077) == 0, "the file is for its owner alone");
    tap_ok(signin_put(b->s, NULL, "ada", SIGNIN_OWNER, NULL, PEOPLE_PUT, t0, &f) == ERR_OK,
           "an owner");
    tap_ok(signin_put(b->s, NULL, "ines", SIGNIN_TECHNICIAN, "fern-1", PEOPLE_PUT, t0, &f) ==
               ERR_OK,
           "a technician of a shop");
    tap_ok(signin_put(b->s, NULL, "x", SIGNIN_TECHNICIAN, "", PEOPLE_PUT, t0, &f) == ERR_DOMAIN,
           "a technician without a shop is refused");
    tap_ok(signin_put(b->s, NULL, "x", SIGNIN_CLERK, "fern-1", PEOPLE_PUT, t0, &f) == ERR_DOMAIN,
           "a clerk with a shop is refused");
    tap_ok(signin_put(b->s, NULL, "a b", SIGNIN_CLERK, NULL, PEOPLE_PUT, t0, &f) == ERR_SYNTAX,
           "a name with a blank is refused");
    tap_ok(signin_put(b->s, NULL, "", SIGNIN_CLERK, NULL, PEOPLE_PUT, t0, &f) == ERR_SYNTAX,
           "no name is refused");
    tap_ok(signin_put(b->s, NULL, "x", SIGNIN_NOBODY, NULL, PEOPLE_PUT, t0, &f) == ERR_DOMAIN,
           "no role is refused");
}

static void check_links(struct bench *b)
{
    struct fault f = {0};
    char link[SIGNIN_TOKEN_ROOM], token[SIGNIN_TOKEN_ROOM], again[SIGNIN_TOKEN_ROOM];
    struct signin_person who = {0};
    int64_t wait = 0;
    tap_ok(signin_link(b->s, NULL, "nobody-here", DAY_MS, t0, link, &f) == ERR_UNKNOWN,
           "no link for somebody who is not there");
    tap_ok(signin_link(b->s, NULL, "ines", DAY_MS, t0, link, &f) == ERR_OK, "a link");
    tap_ok(signin_by_link(b->s, link, "10.0.0.1", t0 + 1, token, &who, &wait, &f) == ERR_OK &&
               who.role == SIGNIN_TECHNICIAN && strcmp(who.shop, "fern-1") == 0,
           "it lets in, with role and shop");
    tap_ok(signin_by_link(b->s, link, "10.0.0.1", t0 + 2, again, &who, &wait, &f) == ERR_DENIED,
           "once");
    tap_ok(signin_link(b->s, NULL, "ines", DAY_MS, t0, link, &f) == ERR_OK &&
               signin_by_link(b->s, link, "10.0.0.1", t0 + DAY_MS + 1, again, &who, &wait, &f) ==
                   ERR_DENIED,
           "not after its time");
    tap_ok(signin_who(b->s, token, t0 + 10, &who, &f) == ERR_OK && who.role == SIGNIN_TECHNICIAN,
           "the session is hers");
    tap_ok(signin_who(b->s, "no-such-token", t0 + 10, &who, &f) == ERR_OK &&
               who.role == SIGNIN_NOBODY,
           "a token that is none is nobody's");
    tap_ok(signin_who(b->s, token, t0 + SIGNIN_IDLE_YARD_MS + 12, &who, &f) == ERR_OK &&
               who.role == SIGNIN_NOBODY,
           "an idle session ends");
}

static void check_sessions(struct bench *b)
{
    struct fault f = {0};
    char link[SIGNIN_TOKEN_ROOM], token[SIGNIN_TOKEN_ROOM], csrf[SIGNIN_TOKEN_ROOM + 32];
    struct signin_person who = {0};
    int64_t wait = 0, now = t0;
    const bool is_in =
        signin_link(b->s, NULL, "ines", DAY_MS, now, link, &f) == ERR_OK &&
        signin_by_link(b->s, link, "10.0.0.1", now, token, &who, &wait, &f) == ERR_OK;
    tap_ok(is_in, "in again");
    bool is_hers = true;
    for (int i = 0; i < 6; i++) { /* in steps of half the idle time of a desk */
        now += SIGNIN_IDLE_MS / 2;
        is_hers &=
            signin_who(b->s, token, now, &who, &f) == ERR_OK && who.role == SIGNIN_TECHNICIAN;
    }
    tap_ok(is_hers, "a session that is used goes on");
    tap_ok(signin_csrf(token, csrf) == ERR_OK && signin_csrf_holds(token, csrf),
           "its word against forged requests holds");
    csrf[0] = csrf[0] == 'a' ? 'b' : 'a';
    tap_ok(!signin_csrf_holds(token, csrf) && !signin_csrf_holds(token, "") &&
               !signin_csrf_holds(token, token),
           "another does not");
    tap_ok(signin_put(b->s, NULL, "ines", SIGNIN_TECHNICIAN, "fern-2", PEOPLE_PUT, now, &f) ==
                   ERR_OK &&
               signin_who(b->s, token, now, &who, &f) == ERR_OK && who.role == SIGNIN_NOBODY,
           "moved to another shop, her sessions end");
    tap_ok(signin_link(b->s, NULL, "ines", DAY_MS, now, link, &f) == ERR_OK &&
               signin_by_link(b->s, link, "10.0.0.1", now, token, &who, &wait, &f) == ERR_OK &&
               strcmp(who.shop, "fern-2") == 0,
           "she comes in for the new shop");
    tap_ok(signin_leave(b->s, token, &f) == ERR_OK &&
               signin_who(b->s, token, now, &who, &f) == ERR_OK && who.role == SIGNIN_NOBODY,
           "and leaves");
}

static void check_passwords(struct bench *b)
{
    struct fault f = {0};
    char token[SIGNIN_TOKEN_ROOM], other[SIGNIN_TOKEN_ROOM];
    struct signin_person who = {0};
    int64_t wait = 0;
    const char *word = "plumb, square and true";
    tap_ok(signin_by_password(b->s, "ada", word, "10.0.0.2", t0, token, &who, &wait, &f) ==
               ERR_DENIED,
           "nobody comes in without a password set");
    tap_ok(signin_password(b->s, "ada", "too short", NULL, &f) == ERR_LIMIT,
           "nine characters are too few");
    tap_ok(signin_password(b->s, "ada", word, NULL, &f) == ERR_OK, "a password is set");
    tap_ok(signin_by_password(b->s, "ada", word, "10.0.0.2", t0, token, &who, &wait, &f) ==
                   ERR_OK &&
               who.role == SIGNIN_OWNER,
           "it lets in");
    tap_ok(signin_by_password(b->s, "ada", word, "10.0.0.2", t0, other, &who, &wait, &f) == ERR_OK,
           "from a second place as well");
    tap_ok(signin_password(b->s, "ada", "another one, longer", token, &f) == ERR_OK &&
               signin_who(b->s, token, t0, &who, &f) == ERR_OK && who.role == SIGNIN_OWNER &&
               signin_who(b->s, other, t0, &who, &f) == ERR_OK && who.role == SIGNIN_NOBODY,
           "changing it ends the other session and keeps this one");
    tap_ok(signin_by_password(b->s, "ada", word, "10.0.0.2", t0, other, &who, &wait, &f) ==
               ERR_DENIED,
           "the old one is no good any more");
    tap_ok(signin_who(b->s, token, t0 + SIGNIN_IDLE_MS + 12, &who, &f) == ERR_OK &&
               who.role == SIGNIN_NOBODY,
           "an owner's session ends after twelve hours without a call");
    tap_ok(signin_by_password(b->s, "ada", "another one, longer", "10.0.0.2", t0, token, &who,
                              &wait, &f) == ERR_OK,
           "the new one lets in");
    tap_ok(signin_revoke(b->s, NULL, "ada", t0, &f) == ERR_ORDER &&
               signin_put(b->s, NULL, "ada", SIGNIN_CLERK, NULL, PEOPLE_PUT, t0, &f) == ERR_ORDER,
           "the last owner stays: %s", f.message);
    tap_ok(signin_put(b->s, "ada", "eve", SIGNIN_OWNER, NULL, PEOPLE_ADD, t0, &f) == ERR_OK &&
               signin_put(b->s, "ada", "eve", SIGNIN_CLERK, NULL, PEOPLE_ADD, t0, &f) ==
                   ERR_DUPLICATE &&
               signin_put(b->s, "ada", "nobody", SIGNIN_CLERK, NULL, PEOPLE_CHANGE, t0, &f) ==
                   ERR_UNKNOWN &&
               signin_revoke(b->s, "ada", "ada", t0, &f) == ERR_ORDER &&
               signin_forget(b->s, NULL, "ada", t0, &f) == ERR_ORDER,
           "with another one nobody takes away their own role, and nobody who may come in is "
           "forgotten");
    tap_ok(signin_revoke(b->s, "eve", "ada", t0, &f) == ERR_OK &&
               signin_who(b->s, token, t0, &who, &f) == ERR_OK && who.role == SIGNIN_NOBODY,
           "revoked, the session ends");
    tap_ok(signin_by_password(b->s, "ada", "another one, longer", "10.0.0.2", t0, other, &who,
                              &wait, &f) == ERR_DENIED,
           "and the password lets nobody in");
}

static void check_guard(struct bench *b)
{
    struct fault f = {0};
    char token[SIGNIN_TOKEN_ROOM];
    struct signin_person who = {0};
    int64_t wait = 0, now = t0 + 10 * DAY_MS;
    const char *word = "level, plumb and square";
    int n = 0;
    bool is_set =
        signin_put(b->s, NULL, "otto", SIGNIN_CLERK, NULL, PEOPLE_PUT, now, &f) == ERR_OK &&
        signin_password(b->s, "otto", word, NULL, &f) == ERR_OK;
    tap_ok(is_set, "a clerk with a password");
    while (n < 20 && signin_by_password(b->s, "otto", "wrong and wrong again", "10.0.0.3", now,
                                        token, &who, &wait, &f) == ERR_DENIED)
        n++;
    tap_ok(n == SIGNIN_FREE && wait > 0, "after %d wrong tries one has to wait (%lld ms)", n,
           (long long)wait);
    tap_ok(signin_by_password(b->s, "otto", word, "10.0.0.4", now, token, &who, &wait, &f) ==
               ERR_BUSY,
           "with the right password and from elsewhere, too: the name is guarded");
    tap_ok(signin_by_password(b->s, "ines", word, "10.0.0.3", now, token, &who, &wait, &f) ==
               ERR_BUSY,
           "so is the address");
    tap_ok(signin_by_password(b->s, "otto", word, "10.0.0.4", now + 2000, token, &who, &wait, &f) ==
               ERR_OK,
           "after waiting the right one lets in");
    now += 2000;
    tap_ok(signin_by_password(b->s, "otto", "wrong and wrong again", "10.0.0.4", now, token, &who,
                              &wait, &f) == ERR_DENIED,
           "and the count begins anew");
}

int main(void)
{
    struct bench b = {0};
    check_secret();
    if (!tap_ok(open_bench(&b), "a list of people is made"))
        return tap_done();
    check_people(&b);
    check_links(&b);
    check_sessions(&b);
    check_passwords(&b);
    check_guard(&b);
    close_bench(&b);
    return tap_done();
}
