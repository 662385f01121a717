/* verbs: owns the order in which verbs are listed. */
#include "cli/verbs.h"

/* One verb a line, in the order of the work (the formatter would put them side by side); keep the closing NULL last. */
/* clang-format off */
const struct cli_verb *const cli_verbs[] = {
    &verb_vin,
    &verb_label,
    &verb_scope,
    &verb_cut,
    &verb_time,
    &verb_conform,
    &verb_wire,
    &verb_true,
    &verb_job,
    &verb_check,
    &verb_sheet,
    &verb_teach,
    &verb_photo,
    &verb_store,
    &verb_bag,
    &verb_take,
    &verb_people,
    &verb_serve,
    &verb_demo,
    &verb_rule,
    &verb_campaign,
    &verb_study,
    &verb_report,
    &verb_practice,
    &verb_doctor,
    NULL,
};
/* clang-format on */
