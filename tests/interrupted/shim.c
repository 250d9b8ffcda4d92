/* Stands between the program and the C library, and lets the call of a given turn end badly. Counted are the calls
   that change a disk: writes to files, syncs, renames, removals, cuts, and the making of files and folders.

   FAULT_HOW  count     nothing goes wrong
              kill      the process is killed before the call
              torn      half of what was to be written is, then the process is killed
              full      this write and all after it: no space left
              halffull  half of it is written, then there is no space left
              short     half of it is written, and the system says so
              broken    the call fails once: input/output error
              readonly  this call and all after it: read-only file system
              clock     from this reading of the clock on it is 400 days earlier; writes are not counted
   FAULT_AT   which call, from 1
   FAULT_COUNT  file that gets the number of calls at the end */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <sys/uio.h>
#include <time.h>
#include <unistd.h>

enum how { COUNT, KILL, TORN, FULL, HALFFULL, SHORT, BROKEN, READONLY, CLOCK };
/* What a call does: takes room, gives room back or moves names, makes what was written last. */
enum what { GROWS, MOVES, SYNCS };

static enum how how = COUNT;
static long at = 0, count = 0;

static void *next(const char *name) { return dlsym(RTLD_NEXT, name); }

__attribute__((constructor)) static void begin(void) {
    static const char *names[] = {"count", "kill", "torn", "full", "halffull", "short", "broken", "readonly", "clock"};
    const char *text = getenv("FAULT_HOW"), *turn = getenv("FAULT_AT");
    for (int i = 0; text && i < 9; i++)
        if (!strcmp(text, names[i])) how = (enum how)i;
    at = turn ? atol(turn) : 0;
}

__attribute__((destructor)) static void end(void) {
    const char *path = getenv("FAULT_COUNT");
    if (!path) return;
    FILE *file = fopen(path, "w");
    if (!file) return;
    how = COUNT;
    fprintf(file, "%ld", count);
    fclose(file);
}

static void die(void) {
    kill(getpid(), SIGKILL);
    for (;;) pause();
}

/* 0: go on; 1: do half of it, then what is said next; else fail with this. */
static int asked(enum what what, int can_be_halved) {
    if (how == CLOCK) return 0;
    long turn = __sync_add_and_fetch(&count, 1);
    if (at == 0 || turn < at) return 0;
    int now = turn == at;
    switch (how) {
    case KILL: if (now) die(); return 0;
    case TORN: if (now && !can_be_halved) die(); return now;
    case FULL: return what == GROWS ? ENOSPC : 0;
    case HALFFULL: return what != GROWS ? 0 : now && can_be_halved ? 1 : ENOSPC;
    case SHORT: return now && can_be_halved;
    case BROKEN: return now ? EIO : 0;
    case READONLY: return EROFS;
    default: return 0;
    }
}

static int is_file(int fd) {
    struct stat facts;
    return !fstat(fd, &facts) && S_ISREG(facts.st_mode);
}

static size_t halved(size_t n) { return n > 1 ? n / 2 : n; }

#define FAILS(result) do { if (fault > 1) { errno = fault; return result; } } while (0)

ssize_t write(int fd, const void *b, size_t n) {
    ssize_t (*real)(int, const void *, size_t) = next("write");
    if (fd <= 2 || !is_file(fd)) return real(fd, b, n);
    int fault = asked(GROWS, n > 1);
    FAILS(-1);
    ssize_t done = real(fd, b, fault ? halved(n) : n);
    if (fault && how == TORN) die();
    return done;
}

#define PWRITE(name, offset) \
    ssize_t name(int fd, const void *b, size_t n, offset o) { \
        ssize_t (*real)(int, const void *, size_t, offset) = next(#name); \
        int fault = asked(GROWS, n > 1); \
        FAILS(-1); \
        ssize_t done = real(fd, b, fault ? halved(n) : n, o); \
        if (fault && how == TORN) die(); \
        return done; \
    }
PWRITE(pwrite, off_t)
PWRITE(pwrite64, off64_t)

ssize_t writev(int fd, const struct iovec *v, int n) {
    ssize_t (*real)(int, const struct iovec *, int) = next("writev");
    if (fd <= 2 || !is_file(fd)) return real(fd, v, n);
    int fault = asked(GROWS, 0);
    FAILS(-1);
    return real(fd, v, n);
}

#define ONE(name, what, type) \
    int name(type x) { \
        int (*real)(type) = next(#name); \
        int fault = asked(what, 0); \
        FAILS(-1); \
        return real(x); \
    }
ONE(fsync, SYNCS, int)
ONE(fdatasync, SYNCS, int)
ONE(unlink, MOVES, const char *)
ONE(rmdir, MOVES, const char *)

#define TWO(name, what, first, second) \
    int name(first x, second y) { \
        int (*real)(first, second) = next(#name); \
        int fault = asked(what, 0); \
        FAILS(-1); \
        return real(x, y); \
    }
TWO(rename, MOVES, const char *, const char *)
TWO(ftruncate, MOVES, int, off_t)
TWO(ftruncate64, MOVES, int, off64_t)
TWO(mkdir, GROWS, const char *, mode_t)

#define OPEN(name) \
    int name(const char *path, int flags, ...) { \
        int (*real)(const char *, int, ...) = next(#name); \
        va_list rest; \
        va_start(rest, flags); \
        mode_t mode = flags & (O_CREAT | O_TMPFILE) ? va_arg(rest, mode_t) : 0; \
        va_end(rest); \
        struct stat there; \
        int makes = (flags & O_CREAT) && stat(path, &there); \
        int changes = (flags & O_ACCMODE) != O_RDONLY && (how == READONLY || (flags & O_TRUNC)); \
        if ((makes || changes) && strncmp(path, "/dev/", 5)) { \
            int fault = asked(makes ? GROWS : MOVES, 0); \
            FAILS(-1); \
        } \
        return real(path, flags, mode); \
    }
OPEN(open)
OPEN(open64)

int clock_gettime(clockid_t which, struct timespec *now) {
    int (*real)(clockid_t, struct timespec *) = next("clock_gettime");
    int done = real(which, now);
    if (how == CLOCK && which == CLOCK_REALTIME && at && __sync_add_and_fetch(&count, 1) >= at)
        now->tv_sec -= 400L * 24 * 3600;
    return done;
}
