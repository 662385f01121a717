/* study_ask: a study for a page (desk/study_ask.h), answered by the same code as the command `study`. */
#ifndef CLI_STUDY_ASK_H
#define CLI_STUDY_ASK_H

#include "desk/study_ask.h"

study_ask_do study_ask_run;

#endif
