/* verb_people: who may use the pages of a store. */
#include "base/jsonw.h"
#include "cli/moment.h"
#include "cli/verbs.h"
#include "core/date.h"
#include "desk/audit.h"
#include "desk/signin.h"
#include "store/store.h"

#include <stdlib.h>
#include <string.h>

enum { HOUR_MS = 60 * 60 * 1000, HOURS = 24, HOURS_MAX = 24 * 30 };

struct call {
    struct cli *ctx;
    const char *store, *role, *shop, *hours;
    const char *kind, *who, *limit, *from;
    const char *what, *name;
    struct signin *s;
    struct store *open;
    struct jsonw w;
    struct cli_table *table;
};

static int said(struct call *c, enum err err, const struct fault *f, const char *done)
{
    if (err != ERR_OK)
        return cli_fault(c->ctx, f);
    if (c->ctx->is_json) {
        jsonw_object(&c->w, NULL);
        jsonw_string(&c->w, "name", c->name);
        jsonw_string(&c->w, "done", c->what);
        jsonw_object_end(&c->w);
    } else
        cli_verdict(c->ctx, CLI_STRONG, done, c->name);
    return CLI_GOOD;
}

static int run_add(struct call *c)
{
    struct fault f = {0};
    enum signin_role role = SIGNIN_NOBODY;
    static const char *const roles[] = {"owner", "clerk", "technician"};
    if (c->role == NULL)
        return cli_error(c->ctx, "--role is missing: owner, clerk or technician");
    if (!signin_role_named(c->role, &role))
        return cli_error_near(c->ctx, "--role", c->role, roles, 3,
                              "expected owner, clerk or technician");
    return said(c, signin_put(c->s, NULL, c->name, role, c->shop, PEOPLE_PUT, moment_now(), &f), &f,
                "%s may come in; give them a link by `people link`.");
}

static int run_link(struct call *c)
{
    struct fault f = {0};
    char token[SIGNIN_TOKEN_ROOM], *end = NULL;
    long hours = HOURS;
    if (c->hours != NULL)
        hours = strtol(c->hours, &end, 10);
    if (c->hours != NULL &&
        (c->hours[0] < '0' || c->hours[0] > '9' || *end != '\0' || hours < 1 || hours > HOURS_MAX))
        return cli_error(c->ctx, "--hours '%.20s': expected a whole number from 1 to %d", c->hours,
                         HOURS_MAX);
    if (signin_link(c->s, NULL, c->name, (int64_t)hours * HOUR_MS, moment_now(), token, &f) !=
        ERR_OK)
        return cli_fault(c->ctx, &f);
    if (c->ctx->is_json) {
        jsonw_object(&c->w, NULL);
        jsonw_string(&c->w, "name", c->name);
        jsonw_string(&c->w, "link", token);
        jsonw_string(&c->w, "path", NULL);
        jsonw_int(&c->w, "hours", hours);
        jsonw_object_end(&c->w);
    } else {
        cli_verdict(c->ctx, CLI_STRONG, "%s comes in by this path, once, within %ld h:", c->name,
                    hours);
        text_printf(&c->ctx->out, "    /enter/%s\n", token);
    }
    return CLI_GOOD;
}

static int run_revoke(struct call *c)
{
    struct fault f = {0};
    return said(c, signin_revoke(c->s, NULL, c->name, moment_now(), &f), &f,
                "%s may no longer come in; every session has ended.");
}

static int run_forget(struct call *c)
{
    struct fault f = {0};
    return said(c, signin_forget(c->s, NULL, c->name, moment_now(), &f), &f,
                "%s is forgotten here. What stands on the log under that name stays.");
}

static bool see(void *me, const struct signin_person *p)
{
    struct call *c = me;
    cli_table_cell(c->table, CLI_STRONG, "%s", p->name);
    cli_table_cell(c->table, CLI_PLAIN, "%s", signin_role_name(p->role));
    cli_table_cell(c->table, CLI_PLAIN, "%s", p->shop);
    cli_table_cell(c->table, CLI_QUIET, "%s",
                   p->is_revoked     ? "may not come in"
                   : p->has_password ? "password"
                                     : "links only");
    return true;
}

static int run_list(struct call *c)
{
    static const char *const head[] = {"Name", "Role", "Shop", "Comes in by"};
    struct fault f = {0};
    if (c->ctx->is_json) {
        jsonw_object(&c->w, NULL);
        const enum err told = signin_tell(c->s, NULL, &c->w, &f);
        jsonw_object_end(&c->w);
        return told == ERR_OK ? CLI_GOOD : cli_fault(c->ctx, &f);
    }
    c->table = cli_table_new("llll");
    cli_table_head(c->table, head);
    const enum err err = signin_list(c->s, see, c, &f);
    cli_table_print(c->table, c->ctx, 2);
    cli_table_free(c->table);
    return err == ERR_OK ? CLI_GOOD : cli_fault(c->ctx, &f);
}

/* ---- who did what ------------------------------------------------------------------------------------ */

/* "2026-03-05 09:14", UTC */
static void moment_text(int64_t ms, char ret[40])
{
    char day[DATE_SHOW_SIZE];
    const int64_t minutes = ms / 60000;
    date_show((int32_t)(minutes / 1440), day);
    snprintf(ret, 40, "%s %02d:%02d", day, (int)(minutes / 60 % 24), (int)(minutes % 60));
}

static void say_act(struct cli_table *table, const struct audit_act *a)
{
    char when[40], on[2 * STORE_ID_MAX];
    moment_text(a->at_ms, when);
    if (a->paper != NULL && a->revision != STORE_UNKNOWN)
        snprintf(on, sizeof on, "%s %s, revision %lld", a->paper, a->name, (long long)a->revision);
    else if (a->paper != NULL)
        snprintf(on, sizeof on, "%s %s", a->paper, a->name);
    else
        snprintf(on, sizeof on, "%s", a->claim != NULL ? a->claim : a->whom != NULL ? a->whom : "");
    cli_table_cell(table, CLI_PLAIN, "%s", when);
    cli_table_cell(table, CLI_STRONG, "%s", a->who != NULL ? a->who : "not told");
    cli_table_cell(table, CLI_PLAIN, "%s", a->what);
    cli_table_cell(table, CLI_PLAIN, "%s", on);
    cli_table_cell(table, CLI_QUIET, "%s", a->detail != NULL ? a->detail : "");
}

static void say_acts(struct call *c, const struct audit_list *list)
{
    static const char *const head[] = {"When, UTC", "Who", "Did", "On", "In words"};
    struct cli_table *table = cli_table_new("lllll");
    cli_table_head(table, head);
    for (size_t i = 0; i < list->n; i++)
        say_act(table, &list->acts[i]);
    cli_table_print(table, c->ctx, 2);
    cli_table_free(table);
    if (list->next[0] != '\0')
        cli_say(c->ctx, 2, "Older ones: --from %s", list->next);
}

static int run_audit(struct call *c)
{
    struct fault f = {0};
    struct audit_list list;
    char *end = NULL;
    struct audit_order order = {c->kind, c->who, c->from, AUDIT_LIMIT};
    if (c->limit != NULL)
        order.limit = strtol(c->limit, &end, 10);
    if (c->limit != NULL && (c->limit[0] < '0' || c->limit[0] > '9' || *end != '\0'))
        return cli_error(c->ctx, "--limit '%.20s': expected a whole number from 1 to %d", c->limit,
                         AUDIT_LIMIT_MAX);
    if (audit_read(c->open, c->s, &order, &list, &f) != ERR_OK)
        return cli_fault(c->ctx, &f);
    if (c->ctx->is_json) {
        jsonw_object(&c->w, NULL);
        audit_json(&list, &c->w);
        jsonw_object_end(&c->w);
    } else
        say_acts(c, &list);
    audit_done(&list);
    return CLI_GOOD;
}

static const struct {
    const char *name;
    bool has_name;
    int (*run)(struct call *c);
} calls[] = {{"add", true, run_add},       {"link", true, run_link},  {"revoke", true, run_revoke},
             {"forget", true, run_forget}, {"list", false, run_list}, {"audit", false, run_audit}};
enum { CALLS = sizeof calls / sizeof *calls };
#define CALLS_WANTED "expected add, link, revoke, forget, list or audit"

static int dispatch(struct call *c)
{
    const char *names[CALLS];
    struct fault f = {0};
    for (size_t i = 0; i < CALLS; i++) {
        names[i] = calls[i].name;
        if (strcmp(calls[i].name, c->what) != 0)
            continue;
        if (calls[i].has_name != (c->name != NULL))
            return cli_error(c->ctx,
                             calls[i].has_name ? "people %s: whose? give a name"
                                               : "people %s takes no name",
                             c->what);
        if (store_open(c->store, STORE_READ, &c->open, &f) != ERR_OK)
            return cli_fault(c->ctx, &f);
        int code = CLI_GOOD;
        jsonw_start(&c->w, &c->ctx->out);
        if (signin_open(c->store, NULL, &c->s, &f) == ERR_OK)
            code = calls[i].run(c);
        else
            code = cli_fault(c->ctx, &f);
        signin_close(c->s);
        store_close(c->open);
        return code;
    }
    return cli_error_near(c->ctx, "people", c->what, names, CALLS, CALLS_WANTED);
}

static int run(struct cli *ctx, int argc, char **argv)
{
    struct cli_arg args[CLI_ARGS_MAX];
    const int n = cli_options(ctx, &verb_people, argc, argv, args);
    struct call c = {.ctx = ctx};
    if (n < 0)
        return CLI_WRONG;
    for (int i = 0; i < n; i++) {
        if (args[i].name != NULL)
            continue;
        if (c.name != NULL)
            return cli_error(ctx, "one word too many: '%.40s'", args[i].value);
        *(c.what == NULL ? &c.what : &c.name) = args[i].value;
    }
    c.store = cli_value(args, n, "--store");
    c.role = cli_value(args, n, "--role");
    c.shop = cli_value(args, n, "--shop");
    c.hours = cli_value(args, n, "--hours");
    c.kind = cli_value(args, n, "--what");
    c.who = cli_value(args, n, "--who");
    c.limit = cli_value(args, n, "--limit");
    c.from = cli_value(args, n, "--from");
    if (c.what == NULL)
        return cli_error(ctx, "what with people? " CALLS_WANTED);
    if (c.store == NULL)
        return cli_error(ctx, "--store is missing: the folder of the store");
    return dispatch(&c);
}

static const struct cli_option options[] = {
    {"--store", "FOLDER", "the store whose pages they use", false},
    {"--role", "ROLE",
     "with add: owner (everything), clerk (rules on claims), technician (one shop's own jobs)",
     false},
    {"--shop", "ID", "with add, for a technician: the shop", false},
    {"--hours", "N", "with link: how long it can be used (24)", false},
    {"--what", "KIND",
     "with audit: only acts of this kind: overruled, taken-back, paid, noted, paper, builds, "
     "added, let-in, changed, link, revoked, "
     "forgotten",
     false},
    {"--who", "NAME", "with audit: only what this person did", false},
    {"--limit", "N", "with audit: so many (100; at most 500)", false},
    {"--from", "PLACE", "with audit: the older ones, from where the list before ended", false},
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_people = {
    .name = "people",
    .line = "say who may use the pages of a store",
    .call = "people add NAME --role ROLE [--shop ID] --store FOLDER | people link NAME --store "
            "FOLDER | people revoke NAME ... | people forget NAME ... | people list ... | people "
            "audit ...",
    .about = "People come in by a one-time link, and may then set a password. Passwords are kept "
             "as salted Argon2id hashes, links and "
             "sessions as SHA-256, in people.db beside the store; a revoked person's sessions end "
             "at once. Nobody takes away the last owner. `forget` takes a revoked person's "
             "name out of people.db, also where it says who did what; the log keeps the names that "
             "words over the rules and payments "
             "were written under.\n\n"
             "`audit` lists who did what, the newest first, from the log and from people.db. Who "
             "is not told: somebody at the command "
             "line, who may use the store's folder.\n\n"
             "Exit code: 0 done, 2 the call or a name is wrong, 3 the store could not be used.",
    .example =
        "  $ mendwright store init --store yard\n"
        "  [=] Made an empty store in yard.\n"
        "  $ mendwright people add ines --role technician --shop fern-mobile-2 --store yard\n"
        "  [=] ines may come in; give them a link by `people link`.\n",
    .options = options,
    .run = run,
};
