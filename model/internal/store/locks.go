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
	turnFile, writeFile *os.File // nil after a wait that was given up
	limit               time.Duration
}

// TurnLimit is how long an act waits for other processes.
const TurnLimit = 30 * time.Second

func openLocks(dir string) (*folderLocks, error) {
	l := &folderLocks{dir: dir, limit: TurnLimit}
	for name, f := range map[string]**os.File{"open.lock": &l.open, "turn.lock": &l.turnFile, "write.lock": &l.writeFile} {
		var err error
		if *f, err = lockFile(dir, name); err != nil {
			return nil, errors.Join(err, l.close())
		}
	}
	return l, nil
}

func lockFile(dir, name string) (*os.File, error) {
	f, err := os.OpenFile(filepath.Join(dir, name), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, fault.New(fault.Internal, "the data folder cannot be written").WithHint("see who owns it").WithCause(err)
	}
	return f, nil
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
	return false, l.wait("open.lock", &l.open, syscall.LOCK_SH)
}

// share gives up being alone.
func (l *folderLocks) share() error { return syscall.Flock(int(l.open.Fd()), syscall.LOCK_SH) }

// turn waits for write.lock in its turn, at most the limit.
func (l *folderLocks) turn() (release func(), err error) {
	l.mu.Lock()
	if err := l.wait("turn.lock", &l.turnFile, syscall.LOCK_EX); err != nil {
		l.mu.Unlock()
		return nil, err
	}
	err = l.wait("write.lock", &l.writeFile, syscall.LOCK_EX)
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

// wait takes a lock, or gives up after the limit. It waits in the kernel, so
// that waiters get the lock as they came. A wait that was given up keeps its
// file and lets go as soon as the kernel hands the lock over; the next wait
// opens the file anew, so that the late one cannot unlock it.
func (l *folderLocks) wait(name string, file **os.File, how int) (err error) {
	if *file == nil {
		if *file, err = lockFile(l.dir, name); err != nil {
			return err
		}
	}
	f := *file
	if err := syscall.Flock(int(f.Fd()), how|syscall.LOCK_NB); err == nil {
		return nil
	} else if !errors.Is(err, syscall.EWOULDBLOCK) {
		return unavailable("the data folder cannot be locked", err)
	}
	got := make(chan error, 1)
	go func() { got <- flockWait(int(f.Fd()), how) }()
	timer := time.NewTimer(l.limit)
	defer timer.Stop()
	select {
	case err := <-got:
		return err
	case <-timer.C:
		*file = nil
		go func() {
			<-got
			f.Close()
		}()
		return fault.New(fault.Unavailable, "another process has been writing for %s", l.limit).WithHint("try again; see what else has the data folder open")
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

// Claim takes a data folder for one who replaces what is in it. It is Unavailable while
// a process has the store open.
func Claim(dir string) (release func() error, err error) {
	l, err := openLocks(dir)
	if err != nil {
		return nil, err
	}
	if err := l.claim(); err != nil {
		return nil, errors.Join(err, l.close())
	}
	return l.close, nil
}

// claim takes open.lock whole, or says who has it.
func (l *folderLocks) claim() error {
	if err := syscall.Flock(int(l.open.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		return inUse(l.holders())
	}
	return nil
}

func inUse(holders string) error {
	return fault.New(fault.Unavailable, "%s has the shop open", holders).WithHint("stop that process, then run this again")
}
