/* school_sets: owns which sets there are: those of the program and those that the owner shares. */
#include "base/embedded.h"
#include "desk/school.h"
#include "practice/solve.h"

#include <stdio.h>
#include <string.h>

extern const struct embedded school_files[];

/* ---- finding ------------------------------------------------------------------------------- */

static enum err digest_of(const char *text, size_t n, char ret[CLASSROOM_HEX_ROOM], struct fault *f)
{
    uint8_t digest[DIGEST_SHA256_SIZE];
    const enum err e = digest_bytes(DIGEST_SHA256, text, n, digest);
    if (e != ERR_OK)
        return fault_set(f, e, "the digest could not be made");
    digest_hex(digest, sizeof digest, ret);
    return ERR_OK;
}

/* The first fault of a list as the error. */
static enum err first_of(const struct fault_list *list, struct fault *f)
{
    if (list->is_out_of_memory || list->n_faults == 0)
        return fault_no_memory(f);
    *f = list->faults[0];
    f->file[0] = '\0';
    return f->code;
}

static enum err load(const char *text, size_t n, struct school_set *ret, struct fault *f)
{
    struct fault_list list = {0};
    enum err e = digest_of(text, n, ret->sha256, f);
    if (e == ERR_OK) {
        ret->set = exercise_set_load(text, n, "", &list);
        if (ret->set == NULL)
            e = first_of(&list, f);
    }
    fault_list_done(&list);
    return e;
}

void school_set_done(struct school_set *s)
{
    exercise_set_free(s->set);
    *s = (struct school_set){0};
}

static enum err load_file(const struct embedded *file, struct school_set *ret, struct fault *f)
{
    *ret = (struct school_set){.is_builtin = true};
    return load((const char *)file->bytes, file->size, ret, f);
}

enum err school_set_by_digest(struct classroom *c, const char *sha256, struct school_set *ret,
                              struct fault *reterr)
{
    struct text yaml = {0};
    bool is_found = false;
    for (const struct embedded *file = school_files; file->path != NULL; file++) {
        enum err e = load_file(file, ret, reterr);
        if (e != ERR_OK || strcmp(ret->sha256, sha256) == 0)
            return e;
        school_set_done(ret);
    }
    *ret = (struct school_set){0};
    enum err e = classroom_set_text(c, sha256, &yaml, &is_found, reterr);
    if (e == ERR_OK && !is_found)
        e = fault_set(reterr, ERR_UNKNOWN,
                      "there is no such set here: it was changed or withdrawn; ask for the sets "
                      "again");
    if (e == ERR_OK)
        e = load(yaml.data != NULL ? yaml.data : "", yaml.size, ret, reterr);
    text_done(&yaml);
    return e;
}

struct finding {
    const char *id;
    char sha256[CLASSROOM_HEX_ROOM];
};

static bool find_id(void *me, const struct classroom_set *set)
{
    struct finding *f = me;
    if (strcmp(f->id, set->id) != 0)
        return true;
    snprintf(f->sha256, sizeof f->sha256, "%s", set->sha256);
    return false;
}

enum err school_set_by_id(struct classroom *c, const char *id, struct school_set *ret,
                          struct fault *reterr)
{
    struct finding found = {.id = id};
    for (const struct embedded *file = school_files; file->path != NULL; file++) {
        enum err e = load_file(file, ret, reterr);
        if (e != ERR_OK || strcmp(ret->set->head.id, id) == 0)
            return e;
        school_set_done(ret);
    }
    *ret = (struct school_set){0};
    const enum err e = classroom_sets(c, find_id, &found, reterr);
    if (e != ERR_OK)
        return e;
    if (found.sha256[0] == '\0')
        return fault_set(reterr, ERR_UNKNOWN, "there is no set '%.60s' here", id);
    return school_set_by_digest(c, found.sha256, ret, reterr);
}

/* ---- telling ------------------------------------------------------------------------------- */

/* A row of the shared sets; their texts stay in the database until one is told. */
struct kept {
    struct classroom_set at[CLASSROOM_SHARED_MAX];
    size_t n;
};

static bool keep_row(void *me, const struct classroom_set *set)
{
    struct kept *kept = me;
    kept->at[kept->n] = *set;
    kept->at[kept->n].yaml = NULL;
    return ++kept->n < CLASSROOM_SHARED_MAX;
}

static enum err truth_of(struct classroom *c, const struct school_who *who,
                         const struct school_set *s, uint64_t *ret, struct fault *f)
{
    *ret = !s->set->head.is_exam || who->is_owner ? EXERCISE_ALL : 0;
    enum err e = ERR_OK;
    for (size_t i = 0; *ret != EXERCISE_ALL && e == ERR_OK && i < s->set->exercises.n; i++) {
        int64_t began_ms = 0;
        e = classroom_began(c, s->sha256, s->set->exercises.at[i].id, who->person, &began_ms, f);
        *ret |= (uint64_t)(began_ms != 0) << i;
    }
    return e;
}

static enum err tell_set(struct classroom *c, const struct school_who *who,
                         const struct school_set *s, struct jsonw *w, struct fault *f)
{
    struct text out = {0};
    uint64_t truth = 0;
    enum err e = truth_of(c, who, s, &truth, f);
    if (e == ERR_OK) {
        exercise_export(s->set, s->sha256, truth, &out);
        if (out.is_broken)
            e = fault_no_memory(f);
        else
            jsonw_raw(w, NULL, out.data, out.size);
    }
    text_done(&out);
    return e;
}

enum err school_sets(struct classroom *c, const struct school_who *who, struct jsonw *w,
                     struct fault *reterr)
{
    struct kept kept = {.n = 0};
    struct school_set s;
    enum err e = classroom_sets(c, keep_row, &kept, reterr);
    jsonw_array(w, "sets");
    for (const struct embedded *file = school_files; e == ERR_OK && file->path != NULL; file++) {
        e = load_file(file, &s, reterr);
        if (e == ERR_OK)
            e = tell_set(c, who, &s, w, reterr);
        school_set_done(&s);
    }
    for (size_t i = 0; e == ERR_OK && i < kept.n; i++) {
        e = school_set_by_digest(c, kept.at[i].sha256, &s, reterr);
        if (e == ERR_OK)
            e = tell_set(c, who, &s, w, reterr);
        school_set_done(&s);
    }
    jsonw_array_end(w);
    if (e != ERR_OK || !who->is_owner)
        return e;
    jsonw_array(w, "kept");
    for (size_t i = 0; i < kept.n; i++) {
        jsonw_object(w, NULL);
        jsonw_string(w, "set", kept.at[i].id);
        jsonw_string(w, "sha256", kept.at[i].sha256);
        jsonw_string(w, "by", kept.at[i].by);
        jsonw_int(w, "kept_ms", kept.at[i].kept_ms);
        jsonw_object_end(w);
    }
    jsonw_array_end(w);
    return ERR_OK;
}

/* ---- bringing in --------------------------------------------------------------------------- */

enum err school_check(const char *text, size_t n, struct jsonw *w, struct fault *reterr)
{
    struct fault_list list = {0};
    struct exercise_set *set = solve_load(text, n, "", &list);
    const bool is_broken = list.is_out_of_memory;
    jsonw_bool(w, "valid", set != NULL);
    jsonw_string(w, "set", set != NULL ? set->head.id : NULL);
    jsonw_int(w, "exercises", set != NULL ? (int64_t)set->exercises.n : 0);
    fault_list_tell(&list, w);
    exercise_set_free(set);
    fault_list_done(&list);
    return is_broken ? fault_no_memory(reterr) : ERR_OK;
}

static enum err check_id(const struct exercise_set *set, const char *id, struct fault *f)
{
    struct school_set s;
    enum err e = ERR_OK;
    if (strcmp(set->head.id, id) != 0)
        return fault_set(f, ERR_DOMAIN, "the file is the set '%s', and was sent as '%.60s'",
                         set->head.id, id);
    for (const struct embedded *file = school_files; e == ERR_OK && file->path != NULL; file++) {
        e = load_file(file, &s, f);
        if (e == ERR_OK && strcmp(s.set->head.id, id) == 0)
            e = fault_set(f, ERR_DOMAIN, "a set '%s' comes with the program: give yours another id",
                          id);
        school_set_done(&s);
    }
    return e;
}

enum err school_share(struct classroom *c, const struct school_who *who, const char *id,
                      const char *text, size_t n, struct jsonw *w, struct fault *reterr)
{
    struct fault_list list = {0};
    struct classroom_set row = {.kept_ms = who->now_ms, .yaml = text, .n = n};
    struct exercise_set *set = solve_load(text, n, "", &list);
    enum err e = set == NULL ? first_of(&list, reterr) : check_id(set, id, reterr);
    if (e == ERR_OK)
        e = digest_of(text, n, row.sha256, reterr);
    if (e == ERR_OK) {
        snprintf(row.id, sizeof row.id, "%s", id);
        snprintf(row.by, sizeof row.by, "%s", who->person);
        e = classroom_share(c, &row, reterr);
    }
    if (e == ERR_OK) {
        jsonw_string(w, "set", row.id);
        jsonw_string(w, "sha256", row.sha256);
        jsonw_int(w, "exercises", (int64_t)set->exercises.n);
    }
    exercise_set_free(set);
    fault_list_done(&list);
    return e;
}
