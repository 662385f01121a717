/* For counting lines alone (make coverage): a process that ends by _exit leaves its counts behind first, if it may still write files. So the
 * helper of photo_apart is counted; a child that has shut itself in is not, which may not. Linked in place of _exit (--wrap). */
#include <gcov.h>
#include <sys/prctl.h>

_Noreturn void real_exit(int code) __asm__("__real__exit");
_Noreturn void counted_exit(int code) __asm__("__wrap__exit");

_Noreturn void counted_exit(int code)
{
    if (prctl(PR_GET_SECCOMP, 0, 0, 0, 0) == 0)
        __gcov_dump();
    real_exit(code);
}
