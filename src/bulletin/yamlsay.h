/* yamlsay: what libyaml complains about, in words that help the writer of a bulletin. */
#ifndef BULLETIN_YAMLSAY_H
#define BULLETIN_YAMLSAY_H

/* yamlsay: libyaml's problem text and what it was doing (context; either may be NULL), and the
 * character at the place (0 when there is none), into one sentence. Static text, never NULL. */
const char *yamlsay(const char *problem, const char *context, char at);

#endif
