package cli_test

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"pawl/api/client"
	"pawl/model/register"
)

// size picks a number of rounds by PAWL_SIZE: quick, ci or full.
func size(quick, ci, full int) int {
	switch os.Getenv("PAWL_SIZE") {
	case "ci":
		return ci
	case "full":
		return full
	}
	return quick
}

// itself is the command that the scripts run: this test program, which need not be built
// and linked once more.
const itself = "pawl"

// program builds the command wrong on purpose, as ldflags says, and without what only a
// debugger reads, which takes the linker as long as the rest.
func program(t *testing.T, ldflags string) string {
	t.Helper()
	out := filepath.Join(t.TempDir(), "pawl")
	build := exec.Command("go", "build", "-o", out, "-ldflags", "-s -w "+ldflags, "pawl")
	if said, err := build.CombinedOutput(); err != nil {
		t.Fatalf("go build: %v\n%s", err, said)
	}
	return out
}

// run runs the command to its end and gives what it printed.
func run(t *testing.T, stdin io.Reader, name string, args ...string) string {
	t.Helper()
	cmd := exec.Command(name, args...)
	var out, errs bytes.Buffer
	cmd.Stdin, cmd.Stdout, cmd.Stderr = stdin, &out, &errs
	if err := cmd.Run(); err != nil {
		t.Fatalf("%s: %v\n%s%s", strings.Join(args, " "), err, errs.String(), out.String())
	}
	return out.String()
}

// server is a running pawl serve.
type server struct {
	*exec.Cmd
	url   string
	ended sync.WaitGroup
}

// serve starts the command given by argv, with serve and its flags appended,
// and waits until it says where it listens.
func serve(t *testing.T, data string, argv ...string) *server {
	t.Helper()
	return serveAt(t, "127.0.0.1:0", data, argv...)
}

// serveAt is serve at an address.
func serveAt(t *testing.T, address, data string, argv ...string) *server {
	t.Helper()
	argv = append(argv, "--data", data, "serve", "--listen", address)
	s := &server{Cmd: exec.Command(argv[0], argv[1:]...)}
	pipe, err := s.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewReader(pipe)
	var said strings.Builder
	for s.url == "" {
		line, err := lines.ReadString('\n')
		said.WriteString(line)
		if err != nil {
			t.Fatalf("the server ended before it listened: %v\n%s", err, said.String())
		}
		if _, url, found := strings.Cut(line, "listening on "); found {
			s.url = strings.TrimSpace(url)
		}
	}
	s.ended.Go(func() { io.Copy(io.Discard, lines) })
	return s
}

// kill ends the server at once, as a power cut ends a program.
func (s *server) kill(t *testing.T) {
	t.Helper()
	if err := s.Process.Kill(); err != nil && !errors.Is(err, os.ErrProcessDone) {
		t.Fatal(err)
	}
	s.ended.Wait()
	s.Wait() // its error is the signal
}

// stop asks the server to end and requires that it does so in good order.
func (s *server) stop(t *testing.T) {
	t.Helper()
	if err := s.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	s.ended.Wait()
	if err := s.Wait(); err != nil {
		t.Errorf("the server did not end in good order: %v", err)
	}
}

// shopFolder makes a shop with a person, a token and tools, and gives their
// numbers and the token. Flags go before each command.
func shopFolder(t *testing.T, pawl string, tools int, flags ...string) (data, token string, numbers []string) {
	t.Helper()
	data = filepath.Join(t.TempDir(), "shop")
	secret := filepath.Join(t.TempDir(), "token")
	flags = append(flags, "--data", data)
	run(t, nil, pawl, slices.Concat(flags, []string{"people", "add", "Tech A", "--role", "technician"})...)
	run(t, nil, pawl, slices.Concat(flags, []string{"token", "add", "load", "--role", "manager", "-o", secret})...)
	raw, err := os.ReadFile(secret)
	if err != nil {
		t.Fatal(err)
	}
	token = strings.TrimSpace(string(raw))
	s := serve(t, data, append([]string{pawl}, flags...)...)
	c := connect(s.url, token)
	for i := range tools {
		kind, serial := "ratchet", fmt.Sprintf("LD%05d", i)
		r, err := c.Register(t.Context(), register.New{SerialAgain: serial, Change: register.Change{Kind: &kind, Serial: &serial}})
		if err != nil {
			t.Fatal(err)
		}
		numbers = append(numbers, r.Number)
	}
	s.stop(t)
	return data, token, numbers
}

// connect gives a client whose connections are its own.
func connect(url, token string) *client.Client {
	return client.New(url, &http.Transport{MaxIdleConnsPerHost: 100}, token)
}
