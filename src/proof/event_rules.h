/* event_rules: what the two readers of events have in common: what a text of a kind may be, and what one field cannot say of
 * another. Inside src/proof/event*. */
#ifndef PROOF_EVENT_RULES_H
#define PROOF_EVENT_RULES_H

#include "proof/event.h"

/* event_text_fits: whether s[0..n), well-formed UTF-8 or not, may be a text of this kind. */
bool event_text_fits(enum event_field_kind kind, const char *s, size_t n);

/* What is wrong between an event's fields, if anything. */
enum event_clash { EVENT_CLASH_NONE, EVENT_CLASH_DAYS, EVENT_CLASH_PART };
enum event_clash event_clash(const struct event *e);

/* events_put: as events_add, but e's texts are in the list's pool already. */
MUST_USE enum err events_put(struct event_list *list, const struct event *e);

#endif
