/* photo_apart_child: owns the helper that makes children, and a child's life: shutting itself in, reading one photo, answering. Here nobody is
 * told of errors: whoever cannot go on ends, and the program sees it end. */
#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <sched.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

#include "proof/photo_apart_parts.h"
#include "proof/photo_parts.h"

#ifdef HAS_SECCOMP
#include <linux/filter.h>
#include <linux/seccomp.h>
#include <seccomp.h>
#endif

#if defined(__SANITIZE_ADDRESS__)
#define IS_SANITIZED 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define IS_SANITIZED 1
#endif
#endif
#ifndef IS_SANITIZED
#define IS_SANITIZED 0 /* the sanitizer maps terabytes: no limit on the address space can be set */
#endif

enum {
    GAVE_UP = 9,              /* exit code: the program is gone, or memory */
    THREAD_FLAG = 0x00010000, /* CLONE_THREAD */
    FILTER_MAX = 512,         /* instructions */
    FD_MAX = 65536            /* closed one by one where /proc tells nothing */
};

/* ---- through sockets --------------------------------------------------------------------------- */

bool photo_apart_send(int fd, const void *bytes, size_t n)
{
    const char *p = bytes;
    for (size_t at = 0; at < n;) {
        const ssize_t k = send(fd, p + at, n - at, MSG_NOSIGNAL);
        if (k > 0)
            at += (size_t)k;
        else if (errno != EINTR)
            return false;
    }
    return true;
}

bool photo_apart_take(int fd, void *bytes, size_t n)
{
    char *p = bytes;
    for (size_t at = 0; at < n;) {
        const ssize_t k = recv(fd, p + at, n - at, 0);
        if (k > 0)
            at += (size_t)k;
        else if (k == 0 || errno != EINTR)
            return false;
    }
    return true;
}

/* ---- shutting in --------------------------------------------------------------------------------- */

/* The address space that there is already, bytes; 0: not known. */
static uint64_t space_now(void)
{
    char text[64] = "";
    const int fd = open("/proc/self/statm", O_RDONLY | O_CLOEXEC);
    if (fd < 0)
        return 0;
    const ssize_t n = read(fd, text, sizeof text - 1);
    close(fd);
    return n > 0 ? strtoull(text, NULL, 10) * (uint64_t)sysconf(_SC_PAGESIZE) : 0;
}

static void limit(int what, uint64_t soft, uint64_t hard)
{
    const struct rlimit r = {.rlim_cur = (rlim_t)soft, .rlim_max = (rlim_t)hard};
    if (setrlimit((__rlimit_resource_t)what, &r) != 0 && errno != EPERM)
        _exit(GAVE_UP);
}

static void set_limits(uint64_t space)
{
    limit(RLIMIT_CORE, 0, 0);
    limit(RLIMIT_FSIZE, 0, 0);
    limit(RLIMIT_CPU, PHOTO_APART_CPU_S, PHOTO_APART_CPU_S + 1);
    limit(RLIMIT_NOFILE, 0, 0);
    if (!IS_SANITIZED && space > 0)
        limit(RLIMIT_AS, space + PHOTO_APART_MEMORY, space + PHOTO_APART_MEMORY);
}

#ifdef HAS_SECCOMP
/* Memory, threads of its own, time, and the socket that is open. Nothing that names a file, an address or another process; no memory that
 * can be run as a program. */
static bool add_rules(scmp_filter_ctx ctx)
{
    static const int plain[] = {SCMP_SYS(read),
                                SCMP_SYS(write),
                                SCMP_SYS(recvfrom),
                                SCMP_SYS(sendto),
                                SCMP_SYS(brk),
                                SCMP_SYS(munmap),
                                SCMP_SYS(mremap),
                                SCMP_SYS(madvise),
                                SCMP_SYS(futex),
                                SCMP_SYS(exit),
                                SCMP_SYS(exit_group),
                                SCMP_SYS(rt_sigprocmask),
                                SCMP_SYS(rt_sigreturn),
                                SCMP_SYS(sigaltstack),
                                SCMP_SYS(restart_syscall),
                                SCMP_SYS(sched_yield),
                                SCMP_SYS(clock_gettime),
                                SCMP_SYS(clock_nanosleep),
                                SCMP_SYS(gettimeofday),
                                SCMP_SYS(getpid),
                                SCMP_SYS(gettid),
                                SCMP_SYS(set_robust_list),
                                SCMP_SYS(rseq),
                                SCMP_SYS(sched_getaffinity),
                                SCMP_SYS(getrandom),
                                SCMP_SYS(rt_sigaction),
                                SCMP_SYS(sysinfo)};
    const struct scmp_arg_cmp no_program = SCMP_A2(SCMP_CMP_MASKED_EQ, PROT_EXEC, 0),
                              no_file = SCMP_A4(SCMP_CMP_MASKED_EQ, 0xffffffff, 0xffffffff),
                              is_thread = SCMP_A0(SCMP_CMP_MASKED_EQ, THREAD_FLAG, THREAD_FLAG);
    bool is_good = true;
    for (size_t i = 0; i < sizeof plain / sizeof *plain; i++)
        is_good &= seccomp_rule_add(ctx, SCMP_ACT_ALLOW, plain[i], 0) == 0;
    is_good &= seccomp_rule_add(ctx, SCMP_ACT_ALLOW, SCMP_SYS(mmap), 2, no_program, no_file) == 0 &&
               seccomp_rule_add(ctx, SCMP_ACT_ALLOW, SCMP_SYS(mprotect), 1, no_program) == 0 &&
               seccomp_rule_add(ctx, SCMP_ACT_ALLOW, SCMP_SYS(clone), 1, is_thread) == 0;
    /* clone3 hides its flags; without it the C library uses clone. prctl gives names to memory and threads: of no use, no harm. */
    return is_good && seccomp_rule_add(ctx, SCMP_ACT_ERRNO(ENOSYS), SCMP_SYS(clone3), 0) == 0 &&
           seccomp_rule_add(ctx, SCMP_ACT_ERRNO(EINVAL), SCMP_SYS(prctl), 0) == 0;
}

/* The filter as the kernel takes it, made once by the helper: making it takes longer than most photos. */
static struct sock_filter filter[FILTER_MAX];
static struct sock_fprog program = {.filter = filter};

static void prepare_filter(void)
{
    int ends[2] = {-1, -1};
    scmp_filter_ctx ctx = seccomp_init(SCMP_ACT_KILL_PROCESS);
    if (ctx != NULL && pipe(ends) == 0 && add_rules(ctx) && seccomp_export_bpf(ctx, ends[1]) == 0) {
        const ssize_t n = read(ends[0], filter, sizeof filter); /* a pipe holds all of it */
        if (n > 0 && (size_t)n < sizeof filter && (size_t)n % sizeof filter[0] == 0)
            program.len = (unsigned short)((size_t)n / sizeof filter[0]);
    }
    if (ends[0] >= 0) {
        close(ends[0]);
        close(ends[1]);
    }
    if (ctx != NULL)
        seccomp_release(ctx);
}

static bool shut_in(void)
{
    return program.len > 0 && prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &program, 0, 0) == 0;
}
#else
static void prepare_filter(void)
{
}

static bool shut_in(void)
{
    return false;
}
#endif

/* ---- a child ------------------------------------------------------------------------------------- */

#ifdef PHOTO_APART_HOOK
/* For the tests alone: what a decoder that was led astray would do, by the photo's first bytes. */
void photo_apart_hook(const uint8_t *bytes, size_t n);
#else
#define photo_apart_hook(bytes, n) ((void)0)
#endif

static void work(const struct photo_apart_head *head, const uint8_t *bytes,
                 struct photo_apart_answer *answer)
{
    static struct photo photo;
    static struct likeness_picture picture;
    enum photo_fault fault = PHOTO_FINE;
    const size_t n = (size_t)head->n;
    photo.orientation = 1;
    photo_apart_hook(bytes, n);
    if (head->task == TASK_READ)
        answer->err = photo_look(bytes, n, &photo);
    else if (head->task == TASK_LIKENESS) {
        answer->err = photo_likeness(bytes, n, &fault, &picture);
        photo.fault = fault;
        memcpy(answer->likeness, picture.grey, sizeof answer->likeness);
    }
    if (answer->err == ERR_OK)
        photo_apart_tell(&photo, answer);
}

static _Noreturn void live(int fd, uint64_t space)
{
    static struct photo_apart_answer answer;
    struct photo_apart_head head;
    set_limits(space);
    answer.wall = shut_in();
    if (!photo_apart_take(fd, &head, sizeof head) || head.n > PHOTO_BYTES_MAX)
        _exit(GAVE_UP);
    uint8_t *bytes = malloc((size_t)head.n + 1);
    if (bytes == NULL || !photo_apart_take(fd, bytes, (size_t)head.n))
        _exit(GAVE_UP);
    work(&head, bytes, &answer);
    _exit(photo_apart_send(fd, &answer, sizeof answer) ? 0 : GAVE_UP);
}

/* ---- the helper ---------------------------------------------------------------------------------- */

/* Every open file but one; standard streams lead nowhere, so that a decoder that prints prints nothing. */
static void let_go(int keep)
{
    DIR *all = opendir("/proc/self/fd");
    const int null = open("/dev/null", O_RDWR);
    if (all == NULL)
        for (int fd = 3; fd < FD_MAX; fd++)
            if (fd != keep && fd != null)
                close(fd);
    for (struct dirent *d = all != NULL ? readdir(all) : NULL; d != NULL; d = readdir(all)) {
        const int fd = (int)strtol(d->d_name, NULL, 10);
        if (fd > 2 && fd != keep && fd != null && fd != dirfd(all))
            close(fd);
    }
    if (all != NULL)
        closedir(all);
    for (int fd = 0; fd <= 2; fd++)
        if (fd != keep && fd != null && (null < 0 ? close(fd) : dup2(null, fd)) < 0)
            continue; /* it was not open */
    if (null > 2)
        close(null);
}

/* An order, and the socket that came with it, -1: none. false: the program is gone. */
static bool take_order(int control, struct photo_apart_order *ret, int *ret_fd)
{
    union {
        char room[CMSG_SPACE(sizeof(int))];
        struct cmsghdr align;
    } more = {{0}};
    struct iovec piece = {ret, sizeof *ret};
    struct msghdr message = {.msg_iov = &piece,
                             .msg_iovlen = 1,
                             .msg_control = more.room,
                             .msg_controllen = sizeof more.room};
    ssize_t n = 0;
    *ret_fd = -1;
    do
        n = recvmsg(control, &message, 0);
    while (n < 0 && errno == EINTR);
    const struct cmsghdr *head = n > 0 ? CMSG_FIRSTHDR(&message) : NULL;
    if (head != NULL && head->cmsg_type == SCM_RIGHTS)
        memcpy(ret_fd, CMSG_DATA(head), sizeof *ret_fd);
    return n == (ssize_t)sizeof *ret;
}

_Noreturn void photo_apart_help(int control)
{
    struct photo_apart_order order = {0};
    const uint64_t space = space_now();
    int fd = -1;
    (void)setsid(); /* Ctrl-C is for the program, whose end is the helper's */
    let_go(control);
    photo_codes_ready();
    prctl(PR_SET_DUMPABLE, 0, 0, 0, 0);
    prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0);
    prepare_filter();
    while (take_order(control, &order, &fd)) {
        struct photo_apart_reply reply = {.pid = -1};
        if (order.what == ORDER_CHILD) {
            reply.pid = fork();
            if (reply.pid == 0) {
                close(control);
                live(fd, space);
            }
        } else
            while (waitpid(order.pid, &reply.status, 0) < 0 && errno == EINTR) {
            }
        if (fd >= 0)
            close(fd);
        if (!photo_apart_send(control, &reply, sizeof reply))
            break;
    }
    _exit(0);
}
