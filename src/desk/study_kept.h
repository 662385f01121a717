/* study_kept: studies that people put by for the campaign's report. Each is a paper on the log (store.h) of the kind "study", named KIND-WHEN:
 * what was asked, the answer as it was printed then with its digest, its words and its picture, who kept it and when. So it cannot change or go
 * unnoticed: taking one out puts a later paper in its place that says who did it. A kept study is never worked out anew; what the store
 * has learnt since is in a new run. */
#ifndef DESK_STUDY_KEPT_H
#define DESK_STUDY_KEPT_H

#include "base/fault.h"
#include "base/json.h"
#include "base/jsonw.h"
#include "store/store.h"

enum { STUDY_KEPT_MAX = 24, STUDY_KEPT_NOTE_MAX = 400, STUDY_KEPT_ID_ROOM = 40 };

/* study_run_put: the answer to a study as members of an object that is open: "study", "bulletin" (null), "options" {name: text}, "rows" (that a person handed in; null), "command", "code", "sentence", "tone", "said", "answer",
 * "answer_sha256" (of what the command prints with --json, line feed and all), "svg" (null), "no_picture" (null), "png" (base64; null). store_name: as the command names the store. */
struct study_ask;
struct study_told;
MUST_USE enum err study_run_put(const struct study_ask *ask, const struct study_told *told,
                                const char *store_name, struct jsonw *w, struct fault *reterr);

/* study_kept_put: run[0..n): an object with these members; note: the person's words about it, NULL or "": none. ret_id: its name. Errors: ERR_LIMIT
 * (STUDY_KEPT_MAX are kept already; too large), ERR_SYNTAX (no such object), those of store_keep. */
struct study_kept_order {
    const char *person, *note;
    int64_t now_ms;
    const char *run;
    size_t n;
};
MUST_USE enum err study_kept_put(struct store *store, const struct study_kept_order *order,
                                 char ret_id[STUDY_KEPT_ID_ROOM], struct fault *reterr);

/* study_kept_drop: takes it out. is_any: also another person's. Errors: ERR_UNKNOWN (none such), ERR_DENIED (another's), the store's. */
MUST_USE enum err study_kept_drop(struct store *store, const char *id, const char *person,
                                  bool is_any, int64_t now_ms, struct fault *reterr);

/* study_kept_each: those that are kept, in the order in which they were put by. bulletin NULL: all; else those of it and of none. see returns false to stop. What is handed over lives until
 * see returns. Papers that are none (another program's hand) are left out. */
struct study_kept {
    const char *id, *person, *note; /* note: "" for none */
    int64_t at_ms;
    const char *study, *bulletin; /* bulletin: "" of none */
    const char *sentence, *tone, *command, *sha256;
    json_node *run;   /* all its members */
    const char *text; /* the paper's own */
    size_t n;
};
typedef bool study_kept_see(void *me, const struct study_kept *kept);
MUST_USE enum err study_kept_each(struct store *store, const char *bulletin, study_kept_see *see,
                                  void *me, struct fault *reterr);

/* study_kept_list: "kept": [{"id", "study", "bulletin", "sentence", "tone", "command", "options", "sha256", "person", "at_ms", "note"}], the newest last, into an object that is open.
 * study_kept_get: the paper of one, as it was put by: {"person", "at_ms", "note", "run"}. Errors: ERR_UNKNOWN, the store's. */
MUST_USE enum err study_kept_list(struct store *store, struct jsonw *w, struct fault *reterr);
MUST_USE enum err study_kept_get(struct store *store, const char *id, struct text *ret,
                                 struct fault *reterr);

#endif
