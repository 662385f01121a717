/* study_chart_gauge: owns the picture of what the spread of measured values is made of. */
#include "desk/study_chart_inner.h"

#include <math.h>

enum { PARTS = 5 };

static double value_of(const struct study_table *t, const struct study_gauge_order *o, size_t i)
{
    return o->unit == UNIT_N ? study_numbers(t, GAUGE_VALUE)[i]
                             : quantity_to_double(study_amounts(t, GAUGE_VALUE)[i], o->unit);
}

static struct chart_gauge_part part_of(const char *name, double variance,
                                       const struct study_interval *i)
{
    const bool has = i != NULL && i->is_known;
    return (struct chart_gauge_part){.name = name,
                                     .sd = sqrt(variance),
                                     .low = has ? sqrt(i->low) : 0,
                                     .high = has ? sqrt(i->high) : 0,
                                     .has_interval = has};
}

static void fill_parts(struct study_chart *c, const struct study_gauge *r, struct chart_gauge *ret)
{
    struct chart_gauge_part *parts = arena_get(&c->arena, PARTS * sizeof *parts);
    if (parts == NULL)
        return;
    parts[0] = part_of("repeating", r->repeatability, &r->repeatability_i);
    parts[1] = part_of("people", r->operators, NULL);
    parts[2] = part_of("people on certain parts", r->interaction, NULL);
    parts[3] = part_of("all measuring together", r->gauge, &r->gauge_i);
    parts[4] = part_of("the parts themselves", r->part, &r->part_i);
    ret->parts = parts;
    ret->n_parts = PARTS;
}

/* Each reading less the mean of its part over all people: what is left is the people's. */
static void fill_people(struct study_chart *c, const struct study_table *t,
                        const struct study_gauge_order *o, const struct study_gauge *r,
                        struct chart_gauge *ret)
{
    const uint32_t *part = study_texts(t, GAUGE_PART), *who = study_texts(t, GAUGE_OPERATOR);
    const size_t each = r->n_parts * r->n_repeats;
    double *sum = study_chart_numbers(c, r->n_parts),
           *off = study_chart_numbers(c, r->n_operators * each);
    struct chart_gauge_person *people = arena_get(&c->arena, r->n_operators * sizeof *people);
    if (sum == NULL || off == NULL || people == NULL)
        return;
    for (size_t i = 0; i < study_rows(t); i++)
        sum[part[i]] += value_of(t, o, i);
    for (size_t i = 0; i < r->n_operators; i++)
        people[i] = (struct chart_gauge_person){
            .name = study_chart_say(c, "%s", study_text(t, GAUGE_OPERATOR, (uint32_t)i)),
            .off = off + i * each};
    for (size_t i = 0; i < study_rows(t); i++) {
        const double mean = sum[part[i]] / (double)(r->n_operators * r->n_repeats);
        off[who[i] * each + people[who[i]].n++] = value_of(t, o, i) - mean;
    }
    ret->people = people;
    ret->n_people = r->n_operators;
}

/* Below 10 % good, above 30 % not fit: common practice (AIAG's guideline), as the command says it. */
static const char *judge(double percent)
{
    return percent < 10   ? "good enough for this work"
           : percent > 30 ? "too much: mend how it is measured first"
                          : "usable with care";
}

enum err study_chart_gauge(const struct study_table *t, const struct study_gauge_order *order,
                           const struct study_gauge *r, const struct study_chart_about *about,
                           struct study_chart *ret, struct fault *reterr)
{
    study_chart_begin(ret, CHART_GAUGE);
    ret->chart.gauge =
        (struct chart_gauge){.unit = order->unit == UNIT_N ? "" : quantity_unit_name(order->unit),
                             .confidence = order->confidence,
                             .total_sd = sqrt(r->total)};
    fill_parts(ret, r, &ret->chart.gauge);
    fill_people(ret, t, order, r, &ret->chart.gauge);
    ret->chart.title = study_chart_say(
        ret, "Measuring makes up %s %% of the spread (%s to %s %%), %s.",
        study_chart_figure(ret, r->percent_study, 3),
        study_chart_figure(ret, r->percent_study_i.low, 3),
        study_chart_figure(ret, r->percent_study_i.high, 3), judge(r->percent_study));
    ret->chart.how = study_chart_say(
        ret,
        "Left: standard deviation of each source, in brackets its share of the whole spread; bars: "
        "intervals of %g %%. Shares are of standard deviations, whose squares add up. Right: each "
        "person's readings; wedge: the person's mean.",
        100 * order->confidence);
    study_chart_words(ret, &r->notes, t, about);
    return study_chart_end(ret, reterr);
}
