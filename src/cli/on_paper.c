/* on_paper: see on_paper.h. */
#include "cli/on_paper.h"

#include "base/digest.h"
#include "base/save.h"
#include "cli/job.h"
#include "draw/words.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>

static int take_size(const struct cli *ctx, const struct cli_arg *args, int n, struct on_paper *ret)
{
    static const char *const known[] = {"a4", "letter"};
    const char *paper = cli_value(args, n, "--paper");
    if (paper != NULL && strcmp(paper, "letter") == 0)
        ret->size = PAPER_LETTER;
    else if (paper != NULL && strcmp(paper, "a4") != 0)
        return cli_error_near(ctx, "paper", paper, known, 2, "expected a4 or letter");
    return CLI_GOOD;
}

static int64_t now_s(void)
{
    const char *epoch = getenv("SOURCE_DATE_EPOCH");
    char *end = NULL;
    if (epoch != NULL && *epoch != '\0') {
        const long long s = strtoll(epoch, &end, 10);
        if (*end == '\0' && s >= 0 && s < 250000000000LL)
            return s;
    }
    return (int64_t)time(NULL);
}

int on_paper_take(const struct cli *ctx, const struct cli_arg *args, int n, const char *like,
                  struct on_paper *ret)
{
    *ret = (struct on_paper){.out = cli_value(args, n, "-o"),
                             .language = cli_value(args, n, "--language"),
                             .size = PAPER_A4,
                             .made_s = now_s()};
    if (ret->out == NULL)
        return cli_error(ctx, "found no -o; expected the PDF's name, such as -o %s", like);
    if (strcmp(ret->out, "-") == 0 && ctx->is_json)
        return cli_error(ctx, "found -o - with --json; expected one of them on standard output");
    if (ret->language != NULL && (strlen(ret->language) < 2 || strlen(ret->language) > 35))
        return cli_error(ctx,
                         "--language: found '%.40s'; expected a language tag such as en, es or fr",
                         ret->language);
    return take_size(ctx, args, n, ret);
}

static int save(struct cli *ctx, const struct on_paper *paper, const struct text *pdf)
{
    struct fault f = {0};
    if (strcmp(paper->out, "-") == 0) {
        text_add(&ctx->out, pdf->data, pdf->size);
        return CLI_GOOD;
    }
    if (save_file(paper->out, pdf->data, pdf->size, &f) != ERR_OK) {
        (void)cli_fault(ctx, &f);
        return CLI_FAILED;
    }
    return CLI_GOOD;
}

const char *on_paper_name(const struct on_paper *paper)
{
    return paper->size == PAPER_A4 ? "A4" : "Letter";
}

static int put_file(const struct cli *ctx, const struct on_paper *paper, const struct bulletin *b,
                    const struct text *pdf, struct jsonw *w)
{
    uint8_t sha256[DIGEST_SHA256_SIZE];
    char hex[2 * DIGEST_SHA256_SIZE + 1];
    const char *language = paper->language != NULL ? paper->language : b->head.language;
    if (digest_bytes(DIGEST_SHA256, pdf->data, pdf->size, sha256) != ERR_OK)
        return cli_error(ctx, "SHA-256 cannot be had on this machine");
    digest_hex(sha256, sizeof sha256, hex);
    jsonw_string(w, "paper", paper->size == PAPER_A4 ? "a4" : "letter");
    jsonw_string(w, "language", language);
    jsonw_string(w, "words", words_language_tag(words_language(language)));
    jsonw_int(w, "bytes", (int64_t)pdf->size);
    jsonw_string(w, "sha256", hex);
    return CLI_GOOD;
}

int on_paper_answer(struct cli *ctx, const struct on_paper *paper, const struct bulletin *b,
                    const struct text *pdf, const void *me,
                    void (*tell)(const void *me, struct jsonw *w),
                    void (*say)(struct cli *ctx, const void *me))
{
    struct jsonw w;
    int code = save(ctx, paper, pdf);
    if (code != CLI_GOOD || strcmp(paper->out, "-") == 0)
        return code;
    if (!ctx->is_json) {
        say(ctx, me);
        return CLI_GOOD;
    }
    jsonw_start(&w, &ctx->out);
    jsonw_object(&w, NULL);
    job_json_head(&w, b);
    jsonw_string(&w, "path", paper->out);
    tell(me, &w);
    code = put_file(ctx, paper, b, pdf, &w);
    if (code != CLI_GOOD)
        return code;
    jsonw_object_end(&w);
    text_putc(&ctx->out, '\n');
    return CLI_GOOD;
}
