/* people_acts: owns the list of who did what, beside the people it names. */
#include "store/people_inner.h"

#include <stdio.h>
#include <string.h>

static void bind(struct db_use *u, const struct people_act *a)
{
    db_int(u, a->at_ms);
    db_text(u, a->who);
    db_text(u, a->what);
    db_text(u, a->whom);
    db_text(u, a->detail);
    if (a->seq > 0)
        db_int(u, a->seq);
    else
        db_null(u);
}

enum err people_act_put(struct people *p, const struct people_act *act, struct fault *f)
{
    struct db_use u = db_use(
        p->db, "INSERT INTO acts (at_ms, who, what, whom, detail, seq) VALUES (?, ?, ?, ?, ?, ?)");
    bind(&u, act);
    return db_end(&u, f);
}

enum err people_note(struct people *people, const struct people_act *act, struct fault *reterr)
{
    return beside_named(people->path, people_act_put(people, act, reterr), reterr);
}

static const char *text_or_null(const struct db_use *u, int i)
{
    return db_col_is_null(u, i) ? NULL : db_col_text(u, i, NULL);
}

/* Columns n, at_ms, who, what, whom, detail, seq from 0 on. */
static struct people_act act_of(const struct db_use *u)
{
    return (struct people_act){.n = db_col_int(u, 0),
                               .at_ms = db_col_int(u, 1),
                               .who = text_or_null(u, 2),
                               .what = db_col_text(u, 3, NULL),
                               .whom = text_or_null(u, 4),
                               .detail = text_or_null(u, 5),
                               .seq = db_col_is_null(u, 6) ? 0 : db_col_int(u, 6)};
}

enum err people_acts(struct people *people, int64_t before, people_see_act *see, void *me,
                     struct fault *reterr)
{
    struct db_use u = db_use(people->db, "SELECT n, at_ms, who, what, whom, detail, seq FROM acts "
                                         "WHERE n < ? ORDER BY n DESC");
    bool has_row = true, goes_on = true;
    enum err err = ERR_OK;
    db_int(&u, before);
    while (goes_on) {
        err = db_next(&u, &has_row, reterr);
        if (err != ERR_OK || !has_row)
            break;
        const struct people_act a = act_of(&u);
        goes_on = see(me, &a);
    }
    db_rest(&u);
    return beside_named(people->path, err, reterr);
}

enum err people_act_of(struct people *people, int64_t seq, char ret_who[PEOPLE_NAME_MAX + 1],
                       bool *ret_found, struct fault *reterr)
{
    struct db_use u =
        db_use(people->db, "SELECT who FROM acts WHERE seq = ? ORDER BY n DESC LIMIT 1");
    db_int(&u, seq);
    const enum err err = db_next(&u, ret_found, reterr);
    ret_who[0] = '\0';
    if (err == ERR_OK && *ret_found)
        snprintf(ret_who, PEOPLE_NAME_MAX + 1, "%s", db_col_text(&u, 0, NULL));
    db_rest(&u);
    return beside_named(people->path, err, reterr);
}

/* A file of version 1 has no acts. */
static enum err has_acts(struct db *from, bool *ret, struct fault *f)
{
    int64_t application = 0, version = 0;
    const enum err err = db_marks(from, &application, &version, f);
    *ret = version > 1;
    return err;
}

enum err people_act_copy(struct people *p, struct db *from, struct fault *f)
{
    bool has_row = false;
    enum err err = has_acts(from, &has_row, f);
    if (err != ERR_OK || !has_row)
        return err;
    struct db_use u =
        db_use(from, "SELECT n, at_ms, who, what, whom, detail, seq FROM acts ORDER BY n");
    for (;;) {
        err = db_next(&u, &has_row, f);
        if (err != ERR_OK || !has_row)
            break;
        const struct people_act a = act_of(&u);
        err = people_act_put(p, &a, f);
        if (err != ERR_OK)
            break;
    }
    db_rest(&u);
    return err;
}
