/* plant: puts the planned fault into a job that was done well. */
#ifndef DEMO_PLANT_H
#define DEMO_PLANT_H

#include "demo/work.h"

enum { PLANT_WHAT = 200 };

/* plant_before: what is typed, printed or signed otherwise from the start. Called by work_do. */
void plant_before(struct work *w);

/* plant_after: what is taken away, changed or added once the job is done. source: the job of claim->source as it was done, NULL
 * when the fault needs none. what: the particulars for the truth. */
void plant_after(struct work *w, const struct work *source, char what[PLANT_WHAT]);

#endif
