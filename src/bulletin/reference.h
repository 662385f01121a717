/* reference: the manual of the bulletin file, made from the schema's tables, so that it cannot differ from what is read. */
#ifndef BULLETIN_REFERENCE_H
#define BULLETIN_REFERENCE_H

#include "base/text.h"

/* reference_write: doc/bulletin.md, Markdown, appended to out. */
void reference_write(struct text *out);

#endif
