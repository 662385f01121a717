/* practice-sets: writes the sets of exercises that come with the pages, as `mendwright practice check --export` does; for the build,
 * which needs them before the program itself, because the program carries the pages. */
#include "base/digest.h"
#include "base/file.h"
#include "practice/solve.h"

#include <stdio.h>

static int refuse(const char *path, const struct fault_list *faults)
{
    char line[FAULT_FILE_MAX + FAULT_MESSAGE_MAX + FAULT_PATH_MAX];
    for (size_t i = 0; i < faults->n_faults; i++) {
        fault_line(&faults->faults[i], line, sizeof line);
        fprintf(stderr, "practice-sets: %s\n", line);
    }
    if (faults->n_faults == 0)
        fprintf(stderr, "practice-sets: %s: memory ran out\n", path);
    return 1;
}

static int add(const char *path, struct text *out)
{
    struct text source = {0};
    struct fault_list faults = {0};
    struct fault f = {0};
    uint8_t digest[DIGEST_SHA256_SIZE];
    char hex[DIGEST_HEX_ROOM];
    struct exercise_set *set = NULL;
    int code = 0;
    if (file_read(path, EXERCISE_SIZE_MAX, &source, &f) != ERR_OK)
        fault_list_add(&faults, &f, false);
    else if (digest_bytes(DIGEST_SHA256, source.data, source.size, digest) == ERR_OK)
        set = exercise_set_load(source.data, source.size, path, &faults);
    if (set == NULL || solve_prove(set, path, &faults) != ERR_OK || faults.n_faults > 0) {
        code = refuse(path, &faults);
    } else if (!set->head.is_exam) { /* an exam is brought in where it is held */
        digest_hex(digest, sizeof digest, hex);
        text_puts(out, out->size > 1 ? ",\n " : "");
        exercise_export(set, hex, EXERCISE_ALL, out);
    }
    exercise_set_free(set);
    fault_list_done(&faults);
    text_done(&source);
    return code;
}

int main(int argc, char **argv)
{
    struct text out = {0};
    int code = 0;
    text_putc(&out, '[');
    for (int i = 1; i < argc && code == 0; i++)
        code = add(argv[i], &out);
    text_puts(&out, "]\n");
    if (code == 0 && (out.is_broken || fwrite(out.data, 1, out.size, stdout) != out.size))
        code = 1;
    text_done(&out);
    return fflush(stdout) == 0 ? code : 1;
}
