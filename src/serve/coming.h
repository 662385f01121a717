/* coming: the store's folder coming/: bodies on their way in, what has come so far of bags that are sent in pieces, and lists that are
 * about to be brought in. Inside
 * src/serve/.
 *
 * Nothing stays for good: a piece that nobody went on with for COMING_DAYS goes, a body that no call writes any more after COMING_HOURS;
 * one person's unfinished bags take no more room than they are given, and are no more than COMING_BAGS_MAX: the one touched longest ago
 * makes room. */
#ifndef SERVE_COMING_H
#define SERVE_COMING_H

#include "desk/signin.h"

#include <stdint.h>

enum { COMING_ROOM = 800, COMING_DAYS = 14, COMING_HOURS = 2, COMING_BAGS_MAX = 32 };

/* coming_path: where a person's pieces of the bag of that digest (64 hexadecimal digits) lie. */
void coming_path(const char *store, const char *person, const char *sha256, char path[COMING_ROOM]);

/* coming_open: a new file for a body; the descriptor, or -1 with errno. */
int coming_open(const char *store, char path[COMING_ROOM]);

/* coming_make_room: removes this person's unfinished bags other than that of sha256, the one touched longest ago first, until what is
 * left with n more bytes is at most max bytes and one bag fewer than COMING_BAGS_MAX. */
void coming_make_room(const char *store, const char *person, const char *sha256, uint64_t n,
                      uint64_t max);

/* coming_tidy: removes what is too old. Returns how many files. */
int coming_tidy(const char *store, int64_t now_ms);

/* coming_list_path: where a person's list of that digest lies, until COMING_HOURS after it came; end: "list", or "faults": its faulty rows.
 * coming_drop_lists: removes the person's lists, and what belongs to them, but that of sha256 (NULL: all). */
void coming_list_path(const char *store, const char *person, const char *sha256, const char *end,
                      char path[COMING_ROOM]);
void coming_drop_lists(const char *store, const char *person, const char *sha256);

#endif
