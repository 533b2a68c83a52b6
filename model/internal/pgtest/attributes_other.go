//go:build unix && !linux

package pgtest

import "syscall"

// attributes run a program as that user.
func attributes(as *syscall.Credential) *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Credential: as}
}

// inMemory is a disk in memory; none is looked for.
func inMemory() string { return "" }
