/* store_give: owns how the store's contents are asked for, and where they go. */
#include "cli/store_give.h"

#include "base/jsonw.h"
#include "desk/export.h"
#include "store/store.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum { PATH_ROOM = 4096 };

static bool put_bytes(void *me, const char *bytes, size_t n)
{
    return fwrite(bytes, 1, n, me) == n;
}

static bool ends_in(const char *path, const char *end)
{
    const size_t n = strlen(path), k = strlen(end);
    return n > k && strcmp(path + n - k, end) == 0;
}

static void say(struct cli *ctx, const char *what, const char *path, int64_t n)
{
    struct jsonw w;
    if (!ctx->is_json) {
        cli_verdict(ctx, CLI_STRONG, "Wrote %" PRId64 " row%s of %s to %s.", n, n == 1 ? "" : "s",
                    what, path);
        return;
    }
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    jsonw_string(&w, "file", path);
    jsonw_string(&w, "what", what);
    jsonw_int(&w, "rows", n);
    jsonw_object_end(&w);
}

static int write_out(struct cli *ctx, struct store *store, int what, bool is_json)
{
    int64_t n = 0;
    struct fault f = {0};
    enum err err = export_write(store, what, is_json, put_bytes, stdout, &n, &f);
    if (err == ERR_OK && fflush(stdout) != 0)
        err = fault_set(&f, ERR_IO, "standard output cannot be written");
    return err == ERR_OK ? CLI_GOOD : cli_fault(ctx, &f);
}

/* Beside the file under a name of its own, then renamed: nobody ever sees half of it. */
static int write_file(struct cli *ctx, struct store *store, int what, const char *path)
{
    char part[PATH_ROOM];
    int64_t n = 0;
    struct fault f = {0};
    if (snprintf(part, sizeof part, "%s.part", path) >= (int)sizeof part)
        return cli_error(ctx, "the file's name is too long");
    FILE *out = fopen(part, "wbe");
    if (out == NULL) {
        snprintf(f.file, sizeof f.file, "%.150s", path);
        (void)fault_set(&f, ERR_OPEN, "cannot be written");
        return cli_fault(ctx, &f);
    }
    enum err err = export_write(store, what, ends_in(path, ".json"), put_bytes, out, &n, &f);
    const bool is_flushed = fflush(out) == 0 && fsync(fileno(out)) == 0;
    if ((fclose(out) != 0 || !is_flushed) && err == ERR_OK)
        err = fault_set(&f, ERR_IO, "there is no room to write %.100s", path);
    if (err == ERR_OK && rename(part, path) != 0)
        err = fault_set(&f, ERR_IO, "%.100s cannot be written", path);
    if (err != ERR_OK) {
        (void)unlink(part);
        return cli_fault(ctx, &f);
    }
    say(ctx, export_names[what], path, n);
    return CLI_GOOD;
}

int store_give(struct cli *ctx, struct store *store, const char *what, const char *path)
{
    const int i = export_find(what);
    if (i < 0)
        return cli_error_near(ctx, "the list", what, export_names, EXPORT_KINDS,
                              "expected units, claims, stations, readings, rulings, awards, "
                              "payments, failures or shops");
    if (strcmp(path, "-") == 0)
        return write_out(ctx, store, i, ctx->is_json);
    if (!ends_in(path, ".csv") && !ends_in(path, ".json"))
        return cli_error(ctx, "found the file '%.80s'; expected a name that ends in .csv or .json",
                         path);
    return write_file(ctx, store, i, path);
}
