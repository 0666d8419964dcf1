/* A clock of another day, for a program that is told to load this before the system's library. */

#define _GNU_SOURCE
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

int clock_gettime(clockid_t id, struct timespec *time) {
    if (id != CLOCK_REALTIME) return syscall(SYS_clock_gettime, id, time);
    /* 2038-01-20 00:00:00 UTC */
    *time = (struct timespec){2147558400, 0};
    return 0;
}
