/* faults: everything that is wrong, or odd, with one bulletin, in the order of the file. */
#ifndef BULLETIN_FAULTS_H
#define BULLETIN_FAULTS_H

#include "base/fault.h"
#include "base/jsonw.h"

#include <stdbool.h>
#include <stddef.h>

enum { FAULTS_MAX = 200 }; /* of each kind; what comes after is counted, not kept */

/* Zero-initialised is empty and fine. */
struct fault_list {
    struct fault *faults, *warnings;
    size_t n_faults, n_warnings;
    size_t n_more_faults, n_more_warnings; /* found beyond FAULTS_MAX */
    bool is_unreadable;                    /* not even YAML, or not readable at all: exit 2 */
    bool is_checked; /* what the bulletin means was checked too, not only its form */
    bool is_out_of_memory;
};

/* fault_list_add: copies f. */
void fault_list_add(struct fault_list *list, const struct fault *f, bool is_warning);

/* fault_list_unreadable: a fault of the file as a whole: there is nothing to read. fault_list_no_memory: so for want of memory; name: the file's. */
void fault_list_unreadable(struct fault_list *list, const struct fault *f);
void fault_list_no_memory(struct fault_list *list, const char *name);

/* fault_list_sort: by line, then column; equal places keep their order. */
void fault_list_sort(struct fault_list *list);

/* fault_list_tell: "faults" and "warnings": [{line, column, path, message}], "more_faults", "more_warnings", into an open object. */
void fault_list_tell(const struct fault_list *list, struct jsonw *w);

void fault_list_done(struct fault_list *list); /* frees; leaves it zero-initialised */

#endif
