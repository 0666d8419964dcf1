/* A disk that is full and a folder that is shut, for a program that is told to load this before the system's library:
   files with FULL in their path take ROOM bytes together from one process, and nothing new is made with SHUT in its path. */

#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <unistd.h>

static int meant(const char *variable, const char *path) {
    const char *part = getenv(variable);
    return part && *part && strstr(path, part);
}

ssize_t write(int file, const void *bytes, size_t count) {
    static size_t taken;
    char link[64], path[PATH_MAX];
    snprintf(link, sizeof link, "/proc/self/fd/%d", file);
    ssize_t size = readlink(link, path, sizeof path - 1);
    path[size < 0 ? 0 : size] = 0;
    if (meant("FULL", path)) {
        size_t left = strtoul(getenv("ROOM"), NULL, 10) - taken;
        if (left == 0 && count > 0) {
            errno = ENOSPC;
            return -1;
        }
        count = count < left ? count : left;
        taken += count;
    }
    return syscall(SYS_write, file, bytes, count);
}

int open64(const char *path, int flags, ...) {
    va_list more;
    va_start(more, flags);
    mode_t mode = flags & O_CREAT ? va_arg(more, mode_t) : 0;
    va_end(more);
    if (flags & O_CREAT && meant("SHUT", path)) {
        errno = EACCES;
        return -1;
    }
    return syscall(SYS_openat, AT_FDCWD, path, flags, mode);
}

int mkdir(const char *path, mode_t mode) {
    if (meant("SHUT", path)) {
        errno = EACCES;
        return -1;
    }
    return syscall(SYS_mkdirat, AT_FDCWD, path, mode);
}
