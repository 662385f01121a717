/* job: what the verbs that work by a bulletin share: loading it, its stations, "ID=VALUE" options,
 * closing lines. */
#ifndef CLI_JOB_H
#define CLI_JOB_H

#include "base/jsonw.h"
#include "bulletin/bulletin.h"
#include "cli/cli.h"

enum { JOB_ID_MAX = 80 };

/* job_bulletin: loads the only operand. NULL after one line to stderr; *ret_code is then the exit
 * code. Free it with bulletin_free. */
struct bulletin *job_bulletin(const struct cli *ctx, const struct cli_arg *args, int n,
                              int *ret_code);

/* job_bulletin_text: the same from a file's text. */
struct bulletin *job_bulletin_text(const struct cli *ctx, const char *text, size_t n,
                                   const char *name, int *ret_code);

/* What a verb does once its bulletin is open. job: `size` zeroed bytes, the verb's own struct. Returns the
 * exit code. */
typedef int job_work(struct cli *ctx, const struct bulletin *b, void *job,
                     const struct cli_arg *args, int n);

/* job_run: a whole call of a verb that works by a bulletin: splits the call, opens the bulletin, has the work
 * done and frees what was opened. Returns the exit code. */
int job_run(struct cli *ctx, const struct cli_verb *verb, int argc, char **argv, size_t size,
            job_work *work);

/* job_unknown: says that WHAT 'WORD' is not known, and which one is near or which there
 * are, as many as a line takes. */
void job_unknown(const struct cli *ctx, const char *what, const char *word,
                 const char *const *known, size_t n);

/* job_station: index of a station; -1 after cli_error_near. */
int job_station(const struct cli *ctx, const struct bulletin *b, const char *id);

/* job_split: "ID=VALUE" into id[JOB_ID_MAX] and the value (borrowed). false after cli_error. */
bool job_split(const struct cli *ctx, const struct cli_arg *arg, const char *like, char *id,
               const char **ret_value);

/* job_units: inches or millimetres. *ret_bare: of a length without a unit, as the bulletin writes its own
 * (`written`). *ret_show: as --show in|mm asks; else as the first `option` ID=LENGTH of the call is written, or
 * failing that as the bulletin does. false after cli_error. */
bool job_units(const struct cli *ctx, const struct cli_arg *args, int n, const char *option,
               enum unit written, enum unit *ret_bare, enum unit *ret_show);

/* job_length: one length > 0 (or any, when is_signed); a bare number takes `bare`. false after
 * cli_error. */
bool job_length(const struct cli *ctx, const char *option, const char *text, enum unit bare,
                bool is_signed, int64_t *ret_nm);

const char *job_text(const struct bulletin *b, const struct bulletin_text *text);

/* job_head: "OV-26-03 revision 2: title" below a verdict. job_foot: that an invented bulletin is
 * invented. */
void job_head(struct cli *ctx, const struct bulletin *b);
void job_foot(struct cli *ctx, const struct bulletin *b);
void job_json_head(struct jsonw *w, const struct bulletin *b);

/* job_cautions: a ruled paragraph of the bulletin's own cautions for these hazards (bits 1 << enum bulletin_hazard), each once:
 * of the steps whose id holds one of words[] (closed by NULL), or of all steps where there is none. `otherwise` (may be NULL) is
 * said first where the bulletin has none at all, and `always` closes it. */
void job_cautions(struct cli *ctx, const struct bulletin *b, unsigned hazards,
                  const char *const *words, const char *otherwise, const char *always);

#endif
