/* stop: what Ctrl-C means to long work that prints at its end: the first asks the work to come to an end, the second ends the program. */
#ifndef CLI_STOP_H
#define CLI_STOP_H

#include "cli/progress.h"
#include "desk/study.h"

/* stop_watch: from now on the first Ctrl-C is heard. Returns what the work is to be given: it shows how far the work is by *progress
 * (started, borrowed) and asks it to end once Ctrl-C was pressed. */
struct study_watch stop_watch(struct progress *progress);

#endif
