/* photo_apart: owns the program's side: the helper that is asked for children, what goes to a child and comes back, and what is made of one
 * that did not end well. The other side is photo_apart_child.c. */
#include "proof/photo_apart.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <threads.h>
#include <time.h>
#include <unistd.h>

#include "proof/photo_apart_parts.h"
#include "proof/photo_parts.h"

/* One helper a program. The lock is held for a message and its answer. */
static struct {
    once_flag once;
    mtx_t lock;
    int control; /* -1: no helper */
    pid_t helper, owner;
} the = {.once = ONCE_FLAG_INIT, .control = -1};

/* ---- the helper ------------------------------------------------------------------------------ */

/* A child of the program that forked later must not end its parent's helper. */
static void end_helper(void)
{
    if (the.control < 0 || the.owner != getpid())
        return;
    close(the.control);
    the.control = -1;
    while (waitpid(the.helper, NULL, 0) < 0 && errno == EINTR) {
    }
}

static void set_up(void)
{
    if (mtx_init(&the.lock, mtx_plain) != thrd_success)
        abort();
    (void)atexit(end_helper); /* else it stays a zombie for whoever reaps nobody; it ends anyway */
}

static bool make_helper(void)
{
    int ends[2];
    if (socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, ends) != 0)
        return false;
    const pid_t pid = fork();
    if (pid == 0)
        photo_apart_help(ends[1]);
    close(ends[1]);
    if (pid < 0) {
        close(ends[0]);
        return false;
    }
    the.control = ends[0];
    the.helper = pid;
    the.owner = getpid();
    return true;
}

enum err photo_apart_start(void)
{
    call_once(&the.once, set_up);
    if (mtx_lock(&the.lock) != thrd_success)
        return ERR_MEMORY;
    const bool is_there = the.control >= 0 || make_helper();
    mtx_unlock(&the.lock);
    return is_there ? ERR_OK : ERR_MEMORY;
}

static bool send_order(const struct photo_apart_order *order, int fd)
{
    union {
        char room[CMSG_SPACE(sizeof(int))];
        struct cmsghdr align;
    } more = {{0}};
    struct photo_apart_order copy = *order;
    struct iovec piece = {&copy, sizeof copy};
    struct msghdr message = {.msg_iov = &piece, .msg_iovlen = 1};
    if (fd >= 0) {
        message.msg_control = more.room;
        message.msg_controllen = sizeof more.room;
        struct cmsghdr *head = CMSG_FIRSTHDR(&message);
        head->cmsg_level = SOL_SOCKET;
        head->cmsg_type = SCM_RIGHTS;
        head->cmsg_len = CMSG_LEN(sizeof fd);
        memcpy(CMSG_DATA(head), &fd, sizeof fd);
    }
    ssize_t n = 0;
    do
        n = sendmsg(the.control, &message, MSG_NOSIGNAL);
    while (n < 0 && errno == EINTR);
    return n == (ssize_t)sizeof copy;
}

static bool take_reply(struct photo_apart_reply *ret)
{
    ssize_t n = 0;
    do
        n = recv(the.control, ret, sizeof *ret, 0);
    while (n < 0 && errno == EINTR);
    return n == (ssize_t)sizeof *ret;
}

/* A message to the helper and its answer. One that was killed is made anew, once: what was asked of it may then be asked again, except for
 * a child of the old one. */
static bool ask(const struct photo_apart_order *order, int fd, struct photo_apart_reply *ret)
{
    bool is_good = false;
    if (photo_apart_start() != ERR_OK || mtx_lock(&the.lock) != thrd_success)
        return false;
    for (int i = 0; i < 2 && !is_good; i++) {
        is_good = the.control >= 0 && send_order(order, fd) && take_reply(ret);
        if (is_good || order->what == ORDER_REAP)
            break;
        end_helper();
        if (!make_helper())
            break;
    }
    mtx_unlock(&the.lock);
    return is_good;
}

/* ---- a child --------------------------------------------------------------------------------- */

struct child {
    int fd; /* to it */
    pid_t pid;
    struct timespec end; /* it is killed then */
    bool is_killed;
};

static bool open_child(struct child *c)
{
    int ends[2];
    struct photo_apart_reply reply = {0};
    const struct photo_apart_order order = {.what = ORDER_CHILD};
    if (socketpair(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC, 0, ends) != 0)
        return false;
    const bool is_good = ask(&order, ends[1], &reply) && reply.pid > 0;
    close(ends[1]);
    if (!is_good) {
        close(ends[0]);
        return false;
    }
    *c = (struct child){.fd = ends[0], .pid = reply.pid};
    clock_gettime(CLOCK_MONOTONIC, &c->end);
    c->end.tv_sec += PHOTO_APART_WALL_S;
    return true;
}

/* Until something can be sent or taken; false: its time is over. */
static bool wait_for(struct child *c, short what)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    const int64_t left = (c->end.tv_sec - now.tv_sec) * 1000 + 1;
    struct pollfd p = {.fd = c->fd, .events = what};
    if (left <= 0)
        return false;
    const int n = poll(&p, 1, left > 1000000 ? 1000000 : (int)left);
    return n > 0 || (n < 0 && errno == EINTR);
}

static bool give(struct child *c, const void *bytes, size_t n)
{
    const char *p = bytes;
    for (size_t at = 0; at < n;) {
        const ssize_t k = send(c->fd, p + at, n - at, MSG_DONTWAIT | MSG_NOSIGNAL);
        if (k > 0)
            at += (size_t)k;
        else if (k < 0 && errno != EINTR && errno != EAGAIN)
            return false;
        else if (!wait_for(c, POLLOUT))
            return false;
    }
    return true;
}

static bool get(struct child *c, void *bytes, size_t n)
{
    char *p = bytes;
    for (size_t at = 0; at < n;) {
        const ssize_t k = recv(c->fd, p + at, n - at, MSG_DONTWAIT);
        if (k > 0)
            at += (size_t)k;
        else if (k == 0 || (errno != EINTR && errno != EAGAIN))
            return false;
        else if (!wait_for(c, POLLIN))
            return false;
    }
    return true;
}

/* How it ended, as waitpid tells it. One whose time is over is killed; nobody but the helper, when it is asked to, lets its number go to
 * another process. false: the helper is gone. */
static bool close_child(struct child *c, bool is_answered, int *ret_status)
{
    struct photo_apart_reply reply = {0};
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    c->is_killed = !is_answered && now.tv_sec >= c->end.tv_sec;
    if (c->is_killed)
        kill(c->pid, SIGKILL);
    close(c->fd);
    const struct photo_apart_order order = {.what = ORDER_REAP, .pid = c->pid};
    const bool is_good = ask(&order, -1, &reply);
    *ret_status = reply.status;
    return is_good;
}

static enum err blame(const struct child *c, int status, struct photo *photo)
{
    const int sign = WIFSIGNALED(status) ? WTERMSIG(status) : 0;
    if (sign == SIGKILL && !c->is_killed)
        return ERR_MEMORY; /* nobody but the machine, short of memory */
    photo->fault = PHOTO_FINE;
    if (sign == SIGXCPU || c->is_killed)
        photo_fail(photo, PHOTO_BROKEN, "is not read within %d s of computing",
                   c->is_killed ? PHOTO_APART_WALL_S : PHOTO_APART_CPU_S);
    else if (sign == SIGSYS)
        photo_fail(photo, PHOTO_BROKEN,
                   "led its decoder to what it may not do; the decoder was stopped");
    else if (sign != 0)
        photo_fail(photo, PHOTO_BROKEN, "made its decoder crash (signal %d)", sign);
    else
        photo_fail(photo, PHOTO_BROKEN, "made its decoder give up (exit %d)",
                   WIFEXITED(status) ? WEXITSTATUS(status) : -1);
    return ERR_OK;
}

/* One photo through one child: *answer is whole when *ret_whole. Otherwise, ERR_OK: photo->fault says what became of the child. */
static enum err through_child(uint32_t task, const void *bytes, size_t n,
                              struct photo_apart_answer *answer, struct photo *photo,
                              bool *ret_whole)
{
    struct child c;
    int status = 0;
    const struct photo_apart_head head = {.n = n, .task = task};
    if (!open_child(&c))
        return ERR_MEMORY;
    /* A child that ended early may have answered all the same: what it says is waited for also when it took no more. */
    (void)(give(&c, &head, sizeof head) && give(&c, bytes, n));
    const bool is_answered = get(&c, answer, sizeof *answer);
    if (!close_child(&c, is_answered, &status))
        return ERR_MEMORY;
    *ret_whole = is_answered && WIFEXITED(status) && WEXITSTATUS(status) == 0;
    if (*ret_whole && answer->err == ERR_MEMORY) {
        photo_fail(photo, PHOTO_LARGE, "needs more memory than the %d MiB that a photo may have",
                   (int)(PHOTO_APART_MEMORY >> 20));
        *ret_whole = false;
    } else if (*ret_whole && (answer->err != ERR_OK || !photo_apart_hear(answer, photo))) {
        photo_fail(photo, PHOTO_BROKEN, "led its decoder to an answer that makes no sense");
        *ret_whole = false;
    } else if (!*ret_whole)
        return blame(&c, status, photo);
    return ERR_OK;
}

/* ---- the calls --------------------------------------------------------------------------------- */

enum err photo_apart_read(const void *bytes, size_t n, struct photo *ret)
{
    uint8_t sha256[DIGEST_SHA256_SIZE];
    bool is_whole = false;
    if (n > PHOTO_BYTES_MAX || photo_kind_of(bytes, n) == PHOTO_UNKNOWN)
        return photo_read(bytes, n, ret); /* no decoder is asked */
    struct photo_apart_answer *answer = malloc(sizeof *answer);
    *ret = (struct photo){.orientation = 1, .kind = photo_kind_of(bytes, n)};
    enum err err = answer == NULL ? ERR_MEMORY : digest_bytes(DIGEST_SHA256, bytes, n, sha256);
    if (err == ERR_OK)
        err = through_child(TASK_READ, bytes, n, answer, ret, &is_whole);
    if (err == ERR_OK)
        digest_hex(sha256, sizeof sha256, ret->sha256);
    free(answer);
    return err;
}

enum err photo_apart_likeness(const void *bytes, size_t n, enum photo_fault *ret_fault,
                              struct likeness_picture *ret)
{
    bool is_whole = false;
    if (n > PHOTO_BYTES_MAX || photo_kind_of(bytes, n) == PHOTO_UNKNOWN)
        return photo_likeness(bytes, n, ret_fault, ret);
    struct photo_apart_answer *answer = malloc(sizeof *answer);
    struct photo *photo = calloc(1, sizeof *photo);
    enum err err = answer == NULL || photo == NULL ? ERR_MEMORY : ERR_OK;
    if (err == ERR_OK)
        err = through_child(TASK_LIKENESS, bytes, n, answer, photo, &is_whole);
    if (err == ERR_OK) {
        *ret_fault = photo->fault;
        if (photo->fault == PHOTO_FINE)
            memcpy(ret->grey, answer->likeness, sizeof ret->grey);
    }
    free(photo);
    free(answer);
    return err;
}

enum photo_apart_wall photo_apart_wall(void)
{
    struct photo_apart_answer *answer = malloc(sizeof *answer);
    struct photo *photo = calloc(1, sizeof *photo);
    bool is_whole = false;
    enum photo_apart_wall wall = PHOTO_APART_NONE;
    if (answer != NULL && photo != NULL &&
        through_child(TASK_WALL, "", 0, answer, photo, &is_whole) == ERR_OK && is_whole)
        wall = answer->wall != 0 ? PHOTO_APART_SHUT : PHOTO_APART_LIMITS;
    free(photo);
    free(answer);
    return wall;
}
