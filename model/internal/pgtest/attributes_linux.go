package pgtest

import "syscall"

// attributes run a program as that user, and stop it when the tests die.
func attributes(as *syscall.Credential) *syscall.SysProcAttr {
	return &syscall.SysProcAttr{Credential: as, Pdeathsig: syscall.SIGINT}
}
