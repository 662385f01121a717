/* rule_doc: owns the layout of doc/ruling.md's tables. */
#include "desk/rule.h"

/* "|" would end a cell. */
static void put_cell(struct text *out, const char *s)
{
    for (; *s != '\0'; s++)
        text_printf(out, *s == '|' ? "\\|" : "%c", *s);
}

/* Where a group of rules begins, and what it is about. */
static const struct {
    enum rule_id first;
    const char *title;
} groups[] = {{RULE_VIN_CHECK, "Unit and scope"}, {RULE_REVISION_OLD, "Bulletin"},
              {RULE_PHOTO_MISSING, "Photos"},     {RULE_READING_MISSING, "Readings"},
              {RULE_KIT_MISSING, "Kit and cut"},  {RULE_HOLD_SKIPPED, "Work and times"},
              {RULE_LATE, "Claim and shop"},      {RULE_NOT_PAYABLE, "Money"}};

void rule_doc_write(struct text *out)
{
    size_t group = 0;
    for (size_t i = 0; i < RULE_N; i++) {
        const struct rule_row *row = &rule_rows[i];
        if (group < sizeof groups / sizeof *groups && groups[group].first == (enum rule_id)i)
            text_printf(out,
                        "%s### %s\n\n| rule | level | what it sees | why | how to cure it |\n| --- "
                        "| --- | --- | --- | --- |\n",
                        i > 0 ? "\n" : "", groups[group++].title);
        text_printf(out, "| `%s` | %s | ", row->name, rule_level_name(row->level));
        put_cell(out, row->sees);
        text_puts(out, " | ");
        put_cell(out, row->why);
        text_puts(out, " | ");
        put_cell(out, row->cure);
        text_puts(out, " |\n");
    }
}
