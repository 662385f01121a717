/* readings: how readings reach a verb, as "POINT=VALUE" options or as a list in a file. */
#ifndef CLI_READINGS_H
#define CLI_READINGS_H

#include "bulletin/adapt_truing.h"
#include "cli/cli.h"

enum {
    READINGS_SIZE_MAX = 64 * 1024, /* bytes of a list */
    READINGS_LINE_MAX = 200,       /* bytes of one line of it */
    READINGS_FAULTS_MAX = 20       /* bad lines that are named; the rest is counted */
};

/* readings_take: --reading POINT=VALUE (repeatable), --readings FILE ("-": standard input) and --u
 * POINT=U (repeatable) into ret[BULLETIN_POINTS_MAX], one for each point of the bulletin. A bare
 * number takes the unit of the point's nominal; the uncertainty is the instrument's unless --u says
 * otherwise. A list has one "POINT VALUE" or "POINT=VALUE" a line; '#' at the start of a line or
 * after a blank begins a comment. Refused, each bad line by itself: unknown points, amounts of
 * another kind or beyond TRUING_AMOUNT_MAX, a point read twice, --u without a reading; and a call
 * without any reading. Returns 0, or an exit code after cli_error. */
int readings_take(const struct cli *ctx, const struct bulletin *b, const struct cli_arg *args,
                  int n, struct adapt_reading *ret);

#endif
