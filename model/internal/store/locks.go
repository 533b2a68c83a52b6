package store

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"time"

	"pawl/model/fault"
)

// folderLocks are the locks between processes on one data folder. Each process
// holds open.lock shared while it has the store open, and whole while it
// migrates. A write is under write.lock; who waits for it holds turn.lock, so
// that a process with many writes lets others in between.
type folderLocks struct {
	dir                 string
	open                *os.File
	mu                  sync.Mutex
	turnFile, writeFile *os.File
}

// TurnLimit is how long an act waits for other processes.
const TurnLimit = 30 * time.Second

func openLocks(dir string) (*folderLocks, error) {
	l := &folderLocks{dir: dir}
	for name, f := range map[string]**os.File{"open.lock": &l.open, "turn.lock": &l.turnFile, "write.lock": &l.writeFile} {
		var err error
		if *f, err = os.OpenFile(filepath.Join(dir, name), os.O_RDWR|os.O_CREATE, 0o600); err != nil {
			return nil, errors.Join(fault.New(fault.Unavailable, "the data folder cannot be written").WithHint("see who owns it").WithCause(err), l.close())
		}
	}
	return l, nil
}

func (l *folderLocks) close() error {
	var errs []error
	for _, f := range []*os.File{l.open, l.turnFile, l.writeFile} {
		if f != nil {
			errs = append(errs, f.Close())
		}
	}
	return errors.Join(errs...)
}

// enter takes open.lock: whole when no other process has it, else shared, which
// may wait for one that migrates.
func (l *folderLocks) enter(ctx context.Context) (alone bool, err error) {
	if err = syscall.Flock(int(l.open.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err == nil {
		return true, nil
	}
	return false, lockWithin(l.open, syscall.LOCK_SH, TurnLimit)
}

// share gives up being alone.
func (l *folderLocks) share() error { return syscall.Flock(int(l.open.Fd()), syscall.LOCK_SH) }

// turn waits for write.lock in its turn, at most TurnLimit.
func (l *folderLocks) turn() (release func(), err error) {
	l.mu.Lock()
	if err := lockWithin(l.turnFile, syscall.LOCK_EX, TurnLimit); err != nil {
		l.mu.Unlock()
		return nil, err
	}
	err = lockWithin(l.writeFile, syscall.LOCK_EX, TurnLimit)
	syscall.Flock(int(l.turnFile.Fd()), syscall.LOCK_UN)
	if err != nil {
		l.mu.Unlock()
		return nil, err
	}
	return func() {
		syscall.Flock(int(l.writeFile.Fd()), syscall.LOCK_UN)
		l.mu.Unlock()
	}, nil
}

// lockWithin takes a lock, or gives up after the limit. The wait is in the
// kernel, so that waiters get it as they came; one that gave up lets go as soon
// as the kernel hands it over.
func lockWithin(f *os.File, how int, limit time.Duration) error {
	fd := int(f.Fd())
	if err := syscall.Flock(fd, how|syscall.LOCK_NB); err == nil {
		return nil
	} else if !errors.Is(err, syscall.EWOULDBLOCK) {
		return unavailable("the data folder cannot be locked", err)
	}
	got := make(chan error, 1)
	go func() { got <- flockWait(fd, how) }()
	timer := time.NewTimer(limit)
	defer timer.Stop()
	select {
	case err := <-got:
		return err
	case <-timer.C:
		go func() {
			if <-got == nil {
				syscall.Flock(fd, syscall.LOCK_UN)
			}
		}()
		return fault.New(fault.Unavailable, "another process has been writing for %s", limit).WithHint("try again; see what else has the data folder open")
	}
}

func flockWait(fd, how int) error {
	for {
		if err := syscall.Flock(fd, how); !errors.Is(err, syscall.EINTR) {
			return err
		}
	}
}

// holders names the other processes that have the store open, as far as the
// system tells.
func (l *folderLocks) holders() string {
	var names []string
	info, err := l.open.Stat()
	table, openErr := os.Open("/proc/locks")
	if err != nil || openErr != nil {
		return "another process"
	}
	defer table.Close()
	inode := fmt.Sprint(info.Sys().(*syscall.Stat_t).Ino)
	for lines := bufio.NewScanner(table); lines.Scan(); {
		// 1: FLOCK ADVISORY READ 812 fe:00:1234 0 EOF
		f := strings.Fields(lines.Text())
		if len(f) < 6 || f[1] != "FLOCK" || !strings.HasSuffix(f[5], ":"+inode) || f[4] == fmt.Sprint(os.Getpid()) {
			continue
		}
		command, _ := os.ReadFile("/proc/" + f[4] + "/cmdline")
		words := strings.TrimRight(strings.ReplaceAll(string(command), "\x00", " "), " ")
		names = append(names, strings.TrimSpace(fmt.Sprintf("process %s %s", f[4], words)))
	}
	if len(names) == 0 {
		return "another process"
	}
	return strings.Join(names, " and ")
}
