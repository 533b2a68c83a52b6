package pgtest

import "syscall"

// attributes run a program as that user, and stop it when the tests die.
func attributes(as *syscall.Credential) *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Credential: as, Pdeathsig: syscall.SIGINT}
}

// tmpfs is the type of a disk in memory (statfs(2), TMPFS_MAGIC).
const tmpfs = 0x01021994

// inMemory is a disk in memory with room for what tests write, "" where there is none. A
// server syncs there as it does elsewhere, and nobody waits for it.
func inMemory() string {
	var s syscall.Statfs_t
	if err := syscall.Statfs("/dev/shm", &s); err != nil || s.Type != tmpfs || s.Bavail*uint64(s.Bsize) < 4<<30 {
		return ""
	}
	return "/dev/shm"
}
