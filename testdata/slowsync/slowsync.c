/* Preloaded, makes every fsync and fdatasync of SQLite longer by SLOWSYNC_MS, as a slow
 * disk does; 5 ms unless said. Build: cc -shared -fPIC -o slowsync.so slowsync.c -ldl */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <stdlib.h>
#include <time.h>

static int later(const char *name, int fd)
{
	const char *said = getenv("SLOWSYNC_MS");
	struct timespec wait = {0, (said ? atoi(said) : 5) * 1000L * 1000L};
	int (*real)(int) = (int (*)(int))dlsym(RTLD_NEXT, name);
	nanosleep(&wait, 0);
	return real(fd);
}

int fsync(int fd) { return later("fsync", fd); }
int fdatasync(int fd) { return later("fdatasync", fd); }
