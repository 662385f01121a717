/* verb_people: who may use the pages of a store. */
#include "base/jsonw.h"
#include "cli/moment.h"
#include "cli/verbs.h"
#include "desk/signin.h"
#include "store/store.h"

#include <stdlib.h>
#include <string.h>

enum { HOUR_MS = 60 * 60 * 1000, HOURS = 24, HOURS_MAX = 24 * 30 };

struct call {
    struct cli *ctx;
    const char *store, *role, *shop, *hours;
    const char *what, *name;
    struct signin *s;
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
    return said(c, signin_put(c->s, c->name, role, c->shop, moment_now(), &f), &f,
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
    if (signin_link(c->s, c->name, (int64_t)hours * HOUR_MS, moment_now(), token, &f) != ERR_OK)
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
    return said(c, signin_revoke(c->s, c->name, &f), &f,
                "%s may no longer come in; every session has ended.");
}

static bool see(void *me, const struct signin_person *p)
{
    struct call *c = me;
    if (c->ctx->is_json) {
        jsonw_object(&c->w, NULL);
        jsonw_string(&c->w, "name", p->name);
        jsonw_string(&c->w, "role", signin_role_name(p->role));
        jsonw_string(&c->w, "shop", p->shop[0] != '\0' ? p->shop : NULL);
        jsonw_bool(&c->w, "revoked", p->is_revoked);
        jsonw_bool(&c->w, "has_password", p->has_password);
        jsonw_object_end(&c->w);
        return true;
    }
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
        jsonw_array(&c->w, "people");
    } else {
        c->table = cli_table_new("llll");
        cli_table_head(c->table, head);
    }
    const enum err err = signin_list(c->s, see, c, &f);
    if (c->ctx->is_json) {
        jsonw_array_end(&c->w);
        jsonw_object_end(&c->w);
    } else
        cli_table_print(c->table, c->ctx, 2);
    cli_table_free(c->table);
    return err == ERR_OK ? CLI_GOOD : cli_fault(c->ctx, &f);
}

static const struct {
    const char *name;
    bool has_name;
    int (*run)(struct call *c);
} calls[] = {{"add", true, run_add},
             {"link", true, run_link},
             {"revoke", true, run_revoke},
             {"list", false, run_list}};

static int dispatch(struct call *c)
{
    static const char *const names[] = {"add", "link", "revoke", "list"};
    struct fault f = {0};
    struct store *store = NULL;
    for (size_t i = 0; i < sizeof calls / sizeof *calls; i++) {
        if (strcmp(calls[i].name, c->what) != 0)
            continue;
        if (calls[i].has_name != (c->name != NULL))
            return cli_error(c->ctx,
                             calls[i].has_name ? "people %s: whose? give a name"
                                               : "people %s takes no name",
                             c->what);
        if (store_open(c->store, STORE_READ, &store, &f) != ERR_OK)
            return cli_fault(c->ctx, &f);
        store_close(store);
        if (signin_open(c->store, NULL, &c->s, &f) != ERR_OK)
            return cli_fault(c->ctx, &f);
        jsonw_start(&c->w, &c->ctx->out);
        const int code = calls[i].run(c);
        signin_close(c->s);
        return code;
    }
    return cli_error_near(c->ctx, "people", c->what, names, 4,
                          "expected add, link, revoke or list");
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
    if (c.what == NULL)
        return cli_error(ctx, "what with people? add, link, revoke or list");
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
    {NULL, NULL, NULL, false},
};

const struct cli_verb verb_people = {
    .name = "people",
    .line = "say who may use the pages of a store",
    .call = "people add NAME --role ROLE [--shop ID] --store FOLDER | people link NAME --store "
            "FOLDER | people revoke NAME ... | people list ...",
    .about = "People come in by a one-time link, and may then set a password. Passwords are kept "
             "as salted Argon2id hashes, links and "
             "sessions as SHA-256, in people.db beside the store; a revoked person's sessions end "
             "at once.\n\n"
             "Exit code: 0 done, 2 the call or a name is wrong, 3 the store could not be used.",
    .example =
        "  $ mendwright store init --store yard\n"
        "  [=] Made an empty store in yard.\n"
        "  $ mendwright people add ines --role technician --shop fern-mobile-2 --store yard\n"
        "  [=] ines may come in; give them a link by `people link`.\n",
    .options = options,
    .run = run,
};
