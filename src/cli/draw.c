/* draw: owns how racks look in text; see draw.h. Proportions are rounded to whole columns, never to nothing. */
#include "cli/draw.h"

#include <string.h>

enum { DRAW_MIN = 30, DRAW_MAX = 100 };

static void pad(struct text *t, int n)
{
    for (int i = 0; i < n; i++)
        text_putc(t, ' ');
}

static void repeat(struct text *t, char c, int n)
{
    for (int i = 0; i < n; i++)
        text_putc(t, c);
}

/* The body between the brackets: relief as "__", teeth as "v". */
static void body(struct text *t, int columns, bool has_left_relief, bool has_right_relief)
{
    int left = has_left_relief ? 2 : 0, right = has_right_relief ? 2 : 0;
    if (left + right > columns)
        left = right = 0;
    repeat(t, '_', left);
    repeat(t, 'v', columns - left - right);
    repeat(t, '_', right);
}

static void ends_line(struct cli *ctx, int indent, int columns, const struct draw_rack *r)
{
    struct text *t = &ctx->out;
    int gap = columns - (int)strlen(r->kept_end) - (int)strlen(r->other_end) - 7;
    pad(t, indent);
    text_printf(t, "%s (keep)", r->kept_end);
    pad(t, gap > 1 ? gap : 1);
    text_printf(t, "%s\n", r->other_end);
}

/* The words stand left and right of the mark, or all to its left where the right has no room, or below one another near
 * the kept end. */
static void mark_line(struct cli *ctx, int indent, int columns, int mark_column,
                      const struct draw_rack *r)
{
    struct text *t = &ctx->out;
    bool is_centre = r->blade == CUT_BLADE_CENTRE;
    const char *right = is_centre ? "^ blade's middle on the line" : "^> blade on this side";
    const char *left = is_centre ? "blade's middle on the line, " : "blade on the waste side, ";
    int words = (int)strlen(r->mark_says);
    bool has_right = mark_column + (int)strlen(right) <= columns;
    if (!has_right && mark_column > words + (int)strlen(left) + 1) {
        pad(t, indent + mark_column - words - (int)strlen(left) - 1);
        text_printf(t, "%s%s %s\n", left, r->mark_says, is_centre ? "^" : "^>");
    } else if (mark_column > words + 1) {
        pad(t, indent + mark_column - words - 1);
        text_printf(t, "%s %s\n", r->mark_says, right);
    } else {
        pad(t, indent + mark_column);
        text_printf(t, "%s\n", right);
        pad(t, indent + mark_column);
        text_printf(t, "%s\n", r->mark_says);
    }
}

void draw_cut(struct cli *ctx, int indent, const struct draw_rack *r)
{
    struct text *t = &ctx->out;
    int columns = ctx->columns - indent - 2;
    columns = columns > DRAW_MAX ? DRAW_MAX : columns < DRAW_MIN ? DRAW_MIN : columns;
    const struct cut_answer *a = r->cut;
    if (a->status != CUT_DO) {
        ends_line(ctx, indent, columns, r);
        pad(t, indent);
        text_putc(t, '[');
        body(t, columns - 2, r->kept_relieved, r->other_relieved);
        text_puts(t, "]\n");
        return;
    }
    int inner = columns - 4; /* two brackets, the line, the kerf */
    int kept = (int)((double)a->needed_nm / (double)a->stock_nm * inner + 0.5);
    kept = kept < 1 ? 1 : kept > inner - (a->offcut_nm > 0) ? inner - (a->offcut_nm > 0) : kept;
    /* The line is drawn left of the blade, or in its middle. */
    bool is_centre = r->blade == CUT_BLADE_CENTRE;
    ends_line(ctx, indent, columns, r);
    pad(t, indent);
    text_putc(t, '[');
    body(t, kept, r->kept_relieved, false);
    text_puts(t, is_centre ? "#|" : "|#");
    repeat(t, '.', inner - kept);
    text_puts(t, "]\n");
    mark_line(ctx, indent, columns, 1 + kept + is_centre, r);
}

enum { TOOTH = 4, AHEAD_MAX = 5, END_SAYS = 11, JUMP_SAYS = 15 };

/* Columns: what the rearmost rack shows, how many teeth further a rack can be drawn, the names. */
struct timed_frame {
    int base, ahead, name;
};

static struct timed_frame timed_frame(int columns, int name)
{
    struct timed_frame f = {3 * TOOTH, AHEAD_MAX, name > 16 ? 16 : name};
    const int room = columns - f.name - 3 - END_SAYS - JUMP_SAYS;
    if (room < f.base + f.ahead * TOOTH) {
        f.base = 2 * TOOTH;
        f.ahead = room > f.base + 2 * TOOTH ? (room - f.base) / TOOTH : 2;
    }
    return f;
}

static int end_column(int64_t end_nm, int64_t least_nm, int64_t pitch_nm,
                      const struct timed_frame *f, bool *ret_is_beyond)
{
    double teeth = (double)(end_nm - least_nm) / (double)pitch_nm;
    *ret_is_beyond = teeth > f->ahead;
    if (*ret_is_beyond)
        teeth = f->ahead;
    return f->base + (int)(teeth * TOOTH + 0.5);
}

static void jump(struct text *t, int32_t move)
{
    int32_t n = move < 0 ? -move : move;
    if (move == 0)
        text_puts(t, "stays");
    else if (move > 0)
        text_printf(t, "%d %s out -->", (int)n, n == 1 ? "tooth" : "teeth");
    else
        text_printf(t, "<-- %d %s in", (int)n, n == 1 ? "tooth" : "teeth");
}

void draw_timed(struct cli *ctx, int indent, const struct draw_timed *racks, size_t n,
                int64_t pitch_nm)
{
    struct text *t = &ctx->out;
    int64_t least = INT64_MAX;
    int name = 0;
    for (size_t i = 0; i < n; i++) {
        least = racks[i].end_nm < least ? racks[i].end_nm : least;
        name = (int)strlen(racks[i].name) > name ? (int)strlen(racks[i].name) : name;
    }
    const struct timed_frame f = timed_frame(ctx->columns - indent, name);
    for (size_t i = 0; i < n; i++) {
        bool is_beyond = false;
        int end = end_column(racks[i].end_nm, least, pitch_nm, &f, &is_beyond);
        pad(t, indent);
        text_printf(t, "%-*.*s ", f.name, f.name, racks[i].name);
        /* The teeth are drawn back from the end, so that a rack that jumped shows teeth in step with its pinion. */
        for (int c = 0; c < end; c++)
            text_putc(t, "_/\\_"[(c - end % TOOTH + TOOTH) % TOOTH]);
        text_puts(t, is_beyond ? "~|" : "|");
        pad(t, f.base + f.ahead * TOOTH + 2 - end - (is_beyond ? 1 : 0));
        text_printf(t, "%-10s ", racks[i].end_says);
        jump(t, racks[i].move);
        text_putc(t, '\n');
        pad(t, indent + f.name + 1 + TOOTH + 1);
        text_puts(t, "(o)\n");
    }
}
