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

/* job_station: index of a station; -1 after cli_error_near. */
int job_station(const struct cli *ctx, const struct bulletin *b, const char *id);

/* job_split: "ID=VALUE" into id[JOB_ID_MAX] and the value (borrowed). false after cli_error. */
bool job_split(const struct cli *ctx, const struct cli_arg *arg, const char *like, char *id,
               const char **ret_value);

/* job_show: the unit to show lengths in: --show in|mm when given; else UNIT_IN when the first
 * length of the call, or failing that the bulletin, is in inches or feet; else UNIT_MM. false after
 * cli_error. */
bool job_show(const struct cli *ctx, const struct cli_arg *args, int n, const char *first_length,
              enum unit bulletin_unit, enum unit *ret);

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
