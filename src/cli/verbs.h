/* verbs: the one table of what mendwright can do. Each verb lives in verb_NAME.c and adds its line
 * to verbs.c. */
#ifndef CLI_VERBS_H
#define CLI_VERBS_H

#include "cli/cli.h"

extern const struct cli_verb verb_vin, verb_label, verb_scope, verb_cut, verb_time, verb_conform,
    verb_wire, verb_true, verb_check, verb_bag, verb_job, verb_photo, verb_store, verb_take,
    verb_demo, verb_rule, verb_campaign, verb_sheet, verb_teach, verb_study, verb_people,
    verb_serve, verb_report, verb_practice, verb_doctor;

/* In the order of the work; NULL closes the table. */
extern const struct cli_verb *const cli_verbs[];

#endif
