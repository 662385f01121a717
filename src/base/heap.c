/* heap: owns the settings of the C library's heap. */
#include "base/heap.h"

#include <stdlib.h> /* any of the library's headers says whose it is */

#ifdef __GLIBC__
#include <malloc.h>

void heap_settle(void)
{
    (void)mallopt(M_MMAP_THRESHOLD, HEAP_LARGE);
    (void)mallopt(M_TRIM_THRESHOLD, HEAP_LARGE);
}

void heap_give_back(void)
{
    (void)malloc_trim(0);
}
#else
void heap_settle(void)
{
}

void heap_give_back(void)
{
}
#endif
