package store

import (
	"bufio"
	"crypto/rand"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
	"time"
)

// A helper is this test binary again, as another process on the same store.
const (
	helperRole = "PAWL_STORE_HELPER" // "hold", "write N", "migrate N" or "migrate loose N"
	helperDir  = "PAWL_STORE_HELPER_DIR"
	helperURL  = "PAWL_STORE_HELPER_URL"
)

// help is the whole program of a helper: it opens the store, says "open", does
// what it is for, says "done" and lets go when its input ends.
func help(role string) int {
	if strings.HasPrefix(role, "migrate ") {
		return migrateDying(role)
	}
	d, err := Open(ctx, Config{Dir: os.Getenv(helperDir), URL: os.Getenv(helperURL), Program: "pawl helper",
		Clock: time.Now, Chance: rand.Reader})
	if err != nil {
		fmt.Println("failed:", err)
		return 1
	}
	fmt.Println("open")
	n, _ := strconv.Atoi(strings.TrimPrefix(role, "write "))
	for i := range n {
		id := fmt.Sprintf("H-helper-%d", i)
		if err := try(d, Act{Verb: "help", Actor: "helper"}, put(person(id, id))); err != nil {
			fmt.Println("failed:", err)
			return 1
		}
	}
	fmt.Println("done")
	io.Copy(io.Discard, os.Stdin)
	if err := d.Close(); err != nil {
		return 1
	}
	return 0
}

type helper struct {
	*exec.Cmd
	out   *bufio.Scanner
	input io.Closer
}

// startHelper starts one and waits until it has the store open.
func startHelper(t *testing.T, at *site, role string) *helper {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	h := &helper{Cmd: exec.Command(self)}
	h.Env = append(os.Environ(), helperRole+"="+role, helperDir+"="+at.Dir, helperURL+"="+at.URL)
	h.Stderr = os.Stderr
	if h.input, err = h.StdinPipe(); err != nil {
		t.Fatal(err)
	}
	out, err := h.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	h.out = bufio.NewScanner(out)
	if err := h.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { h.Process.Kill(); h.Wait() }) // if it is still there
	h.wants(t, "open")
	return h
}

// wants reads the helper's next word.
func (h *helper) wants(t *testing.T, word string) {
	t.Helper()
	if h.out.Scan(); h.out.Text() != word {
		t.Fatalf("the other process says %q, want %q", h.out.Text(), word)
	}
}

// end lets it close the store.
func (h *helper) end(t *testing.T) {
	t.Helper()
	h.input.Close()
	if err := h.Wait(); err != nil {
		t.Fatalf("the other process: %v", err)
	}
}
