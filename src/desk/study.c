/* study: owns the list of notes and the one place where a study asks whether to go on. */
#include "desk/study.h"

#include "base/text.h"

#include <assert.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

void study_note(struct study_notes *notes, enum study_note_kind kind, const char *fmt, ...)
{
    va_list ap;
    assert(notes->n < STUDY_NOTES_MAX);
    struct study_note *note = &notes->at[notes->n++];
    note->kind = kind;
    va_start(ap, fmt);
    (void)vsnprintf(note->text, sizeof note->text, fmt, ap);
    va_end(ap);
    note->text[text_clean(note->text, strlen(note->text), false)] = '\0';
}

const char *study_note_word(enum study_note_kind kind)
{
    static const char *const words[] = {"assumed", "checked", "caveat"};
    return words[kind];
}

bool study_go_on(const struct study_watch *watch, const char *what, uint64_t done, uint64_t all)
{
    return watch == NULL || watch->go_on == NULL || watch->go_on(watch->me, what, done, all);
}
