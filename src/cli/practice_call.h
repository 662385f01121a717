/* practice_call: what the kinds of `mendwright practice` share: the files of a call, read and judged. */
#ifndef CLI_PRACTICE_CALL_H
#define CLI_PRACTICE_CALL_H

#include "base/digest.h"
#include "cli/cli.h"
#include "practice/exercise.h"

/* One file of exercises. Zero-initialised is empty; practice_file_done. */
struct practice_file {
    const char *path;
    struct text source;
    char sha256[DIGEST_HEX_ROOM];
    struct fault_list faults;
    struct exercise_set *set; /* NULL: not valid */
};

/* practice_file_read: reads, checks and proves; what is wrong is in ret->faults. CLI_GOOD, CLI_NO (not valid), CLI_WRONG (not YAML,
 * not readable), CLI_FAILED. */
int practice_file_read(const char *path, struct practice_file *ret);
void practice_file_done(struct practice_file *file);

/* practice_file_whole: for a call that needs a valid set: practice_file_read, and the first fault told when there is one. */
int practice_file_whole(const struct cli *ctx, const char *path, struct practice_file *ret);

/* practice_file_form: the same without the proof that each exercise can be solved. */
int practice_file_form(const struct cli *ctx, const char *path, struct practice_file *ret);

extern const struct cli_verb practice_check_verb, practice_list_verb, practice_try_verb,
    practice_solve_verb;

#endif
