/* reference: the manual of the bulletin file, made from the schema's tables, so that it cannot differ from what is read. */
#ifndef BULLETIN_REFERENCE_H
#define BULLETIN_REFERENCE_H

#include "base/text.h"

/* reference_write: doc/bulletin.md, Markdown, appended to out. */
void reference_write(struct text *out);

/* reference_json: {"fields": [{path, key, needed, kind, what, example}]}, appended to out. path: the keys from the whole on, with dots;
 * "[]" after a list's: "kits[].pays[].for". example null: it is written as its own parts are. */
void reference_json(struct text *out);

#endif
