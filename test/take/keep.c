/* keep: puts a file on a store's log as a paper, for the tests beside it. usage: keep STORE KIND NAME FILE */
#include "base/file.h"
#include "store/store.h"

#include <stdio.h>

static enum err keep(char **argv, const struct text *text, struct fault *f)
{
    struct store *s = NULL;
    bool is_new = false;
    struct store_paper paper = {.kind = argv[2],
                                .name = argv[3],
                                .revision = STORE_UNKNOWN,
                                .at_ms = 1,
                                .text = text->data,
                                .n = text->size};
    enum err err = store_open(argv[1], STORE_WRITE, &s, f);
    if (err == ERR_OK)
        err = store_keep(s, &paper, &is_new, f);
    store_close(s);
    return err;
}

int main(int argc, char **argv)
{
    struct text text = {0};
    struct fault f = {0};
    if (argc != 5)
        return 2;
    enum err err = file_read(argv[4], STORE_PAPER_MAX, &text, &f);
    if (err == ERR_OK)
        err = keep(argv, &text, &f);
    if (err != ERR_OK)
        fprintf(stderr, "keep: %s: %s\n", f.path, f.message);
    text_done(&text);
    return err == ERR_OK ? 0 : 1;
}
