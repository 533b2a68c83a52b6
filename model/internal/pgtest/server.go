package pgtest

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"syscall"
)

// server is a PostgreSQL of our own: data, settings and socket in one folder.
type server struct {
	dir  string
	cmd  *exec.Cmd
	done chan struct{}
}

// errNone says that the programs are not on this machine.
var errNone = errors.New("initdb and postgres are neither in PATH nor in /usr/lib/postgresql")

// start makes a database folder and runs a server on it, as an unprivileged
// user and with fsync on, unless a setting says otherwise. Its only door is the socket
// in the folder.
func start(settings ...string) (*server, error) {
	bin, err := programs()
	if err != nil {
		return nil, err
	}
	owner, err := unprivileged()
	if err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp(inMemory(), "pawl-pg")
	if err != nil {
		return nil, err
	}
	s := &server{dir: dir, done: make(chan struct{})}
	if owner != nil {
		if err := os.Chown(dir, int(owner.Uid), int(owner.Gid)); err != nil {
			return nil, errors.Join(err, os.RemoveAll(dir))
		}
	}
	initdb := exec.Command(filepath.Join(bin, "initdb"), "-D", s.data(), "-U", "pawl", "-A", "trust", "-E", "UTF8", "--locale=C", "--no-sync")
	initdb.Dir, initdb.SysProcAttr = dir, attributes(owner)
	if out, err := initdb.CombinedOutput(); err != nil {
		return nil, errors.Join(fmt.Errorf("initdb: %w\n%s", err, out), os.RemoveAll(dir))
	}
	args := []string{"-D", s.data(), "-k", dir}
	for _, set := range append([]string{"listen_addresses=", "max_connections=300", "autovacuum=off", "wal_level=minimal", "max_wal_senders=0", "checkpoint_timeout=1h"}, settings...) {
		args = append(args, "-c", set)
	}
	s.cmd = exec.Command(filepath.Join(bin, "postgres"), args...)
	s.cmd.Dir, s.cmd.SysProcAttr = dir, attributes(owner)
	if err := s.run(); err != nil {
		return nil, errors.Join(err, os.RemoveAll(dir))
	}
	return s, nil
}

func (s *server) data() string { return filepath.Join(s.dir, "data") }

// url is the base of the server's one database.
func (s *server) url() string {
	q := url.Values{"host": {s.dir}, "sslmode": {"disable"}}
	return "postgres://pawl@/postgres?" + q.Encode()
}

// run starts the server and waits until it says that it is ready. The thread
// that starts it must live as long as it does: the server is told to stop when
// that thread ends (see attributes).
func (s *server) run() error {
	log, err := s.cmd.StderrPipe()
	if err != nil {
		return err
	}
	started := make(chan error)
	go func() {
		runtime.LockOSThread()
		started <- s.cmd.Start()
		<-s.done
	}()
	if err := <-started; err != nil {
		return err
	}
	var said []string
	lines := bufio.NewScanner(log)
	for lines.Scan() {
		said = append(said, lines.Text())
		if strings.Contains(lines.Text(), "ready to accept connections") {
			go io.Copy(io.Discard, log)
			return nil
		}
	}
	return fmt.Errorf("%w\n%s", s.cmd.Wait(), strings.Join(said, "\n"))
}

// stop ends the server at once and removes its folder.
func (s *server) stop() {
	s.cmd.Process.Signal(syscall.SIGINT) // a fast shutdown (PostgreSQL documentation, 19.5)
	s.cmd.Wait()
	close(s.done)
	os.RemoveAll(s.dir)
}

// programs finds the folder of initdb and postgres, the newest version where
// there are several.
func programs() (dir string, err error) {
	if path, err := exec.LookPath("initdb"); err == nil {
		if real, err := filepath.EvalSymlinks(path); err == nil {
			return filepath.Dir(real), nil
		}
	}
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/initdb")
	if err != nil || len(found) == 0 {
		return "", errNone
	}
	version := func(path string) int {
		n, _ := strconv.Atoi(filepath.Base(filepath.Dir(filepath.Dir(path))))
		return n
	}
	best := slices.MaxFunc(found, func(a, b string) int { return version(a) - version(b) })
	return filepath.Dir(best), nil
}

// unprivileged gives the user to run as, nil for the one who runs the tests:
// PostgreSQL refuses to run as root.
func unprivileged() (*syscall.Credential, error) {
	if os.Geteuid() != 0 {
		return nil, nil
	}
	for _, name := range []string{"postgres", "nobody"} {
		u, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, err1 := strconv.ParseUint(u.Uid, 10, 32)
		gid, err2 := strconv.ParseUint(u.Gid, 10, 32)
		if err1 == nil && err2 == nil {
			return &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}, nil
		}
	}
	return nil, errors.New("root may not run PostgreSQL, and there is no user postgres or nobody")
}
