/* strip: owns how a reading against its limits is drawn; see strip.h. */
#include "draw/strip.h"
#include "draw/paper.h"

#include <math.h>

struct frame {
    double x, width, low, high; /* low, high: what the two thirds stand for */
};

static double place(const struct frame *f, double value)
{
    return f->x + f->width * (1.0 / 6 + (value - f->low) / (f->high - f->low) * 2 / 3);
}

/* The side without a limit mirrors the other about the nominal. */
static bool make_frame(const struct strip *s, double x, double width, struct frame *ret)
{
    const double nominal = (double)s->nominal;
    double low = (double)s->limits.low, high = (double)s->limits.high;
    const bool has_low = s->limits.low != INT64_MIN, has_high = s->limits.high != INT64_MAX;
    if (!has_low)
        low = high - 2 * fmax(fabs(high - nominal), fabs(high) * 0.05);
    if (!has_high)
        high = low + 2 * fmax(fabs(nominal - low), fabs(low) * 0.05);
    *ret = (struct frame){x, width, low, high};
    if (high <= low && has_low && has_high) { /* one value only, such as 0 leaks */
        ret->low = low - 1;
        ret->high = high + 1;
        return false;
    }
    return high > low;
}

static void ends(struct paper *p, const struct strip *s, const struct frame *f, double y)
{
    const double left = place(f, f->low), right = place(f, f->high);
    const bool has_low = s->limits.low != INT64_MIN, has_high = s->limits.high != INT64_MAX;
    for (int i = 0; i < 3; i++) { /* fading out where there is no limit */
        if (!has_low)
            paper_fill(p, PAPER_BAND, left - 4 - 6 * i, y + 8, 4, 4);
        if (!has_high)
            paper_fill(p, PAPER_BAND, right + 2 + 6 * i, y + 8, 4, 4);
    }
    if (has_low)
        paper_rule(p, PAPER_INK, 0.9, left, y + 5, left, y + 15);
    if (has_high)
        paper_rule(p, PAPER_INK, 0.9, right, y + 5, right, y + 15);
}

static void wedge(struct paper *p, const struct strip *s, const struct frame *f, double y)
{
    const bool is_out = s->reading < s->limits.low || s->reading > s->limits.high;
    const uint32_t colour = is_out ? PAPER_STOP : PAPER_INK;
    const double least = f->x + 3, most = f->x + f->width - 3;
    const double at = place(f, (double)s->reading);
    const double half = s->expanded_u / (f->high - f->low) * f->width * 2 / 3;
    if (at < least || at > most) { /* farther out than the frame: an arrow */
        const double tip = at < least ? f->x : f->x + f->width, back = at < least ? 6 : -6;
        const double xy[] = {tip, y + 10, tip + back, y + 6.5, tip + back, y + 13.5};
        paper_poly(p, colour, xy, 3);
        return;
    }
    const double xy[] = {at, y + 7.5, at - 3.6, y + 0.5, at + 3.6, y + 0.5};
    paper_poly(p, colour, xy, 3);
    if (s->expanded_u > 0)
        paper_rule(p, colour, 1.6, fmax(at - half, f->x), y + 8.2, fmin(at + half, f->x + f->width),
                   y + 8.2);
}

void strip_draw(struct paper *p, double x, double y, double width, const struct strip *s)
{
    struct frame f;
    if (p->is_dry)
        return;
    const bool is_wide = make_frame(s, x, width, &f);
    cairo_save(p->cr); /* an open side fades out up to the frame's end */
    cairo_rectangle(p->cr, x - 0.5, y - 2, width + 1, STRIP_HEIGHT + 4);
    cairo_clip(p->cr);
    const double left = place(&f, f.low), right = place(&f, f.high);
    if (is_wide) {
        paper_fill(p, PAPER_BAND, left, y + 8, right - left, 4);
        if (s->guarded.low > s->limits.low && s->limits.low != INT64_MIN)
            paper_hatch(p, PAPER_GREY, left, y + 8,
                        fmin(place(&f, (double)s->guarded.low), right) - left, 4, 2);
        if (s->guarded.high < s->limits.high && s->limits.high != INT64_MAX) {
            const double from = fmax(place(&f, (double)s->guarded.high), left);
            paper_hatch(p, PAPER_GREY, from, y + 8, right - from, 4, 2);
        }
        ends(p, s, &f, y);
    } else {
        paper_rule(p, PAPER_RULE, 0.8, x, y + 10, x + width, y + 10);
    }
    const double tick = place(&f, (double)s->nominal);
    if (tick >= x && tick <= x + width)
        paper_rule(p, PAPER_INK, 1.3, tick, y + 5.5, tick, y + 14.5);
    if (s->has_reading)
        wedge(p, s, &f, y);
    cairo_restore(p->cr);
}
