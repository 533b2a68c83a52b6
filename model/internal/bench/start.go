package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// starts is how often a program is started.
const starts = 15

// startRow is the way from a start on an existing folder to the first answer, and from a
// command to what it prints, beside a process of gin and SQLite that does the same, and
// beside the program when it has nothing to do: of that, the libraries have most.
func startRow(ctx context.Context, work string, p *place) (out []measured, err error) {
	pawl, bareshop := filepath.Join(work, "pawl"), filepath.Join(work, "bareshop")
	for program, from := range map[string]string{pawl: "pawl", bareshop: "pawl/model/internal/bench/bareshop"} {
		if said, err := exec.CommandContext(ctx, "go", "build", "-o", program, from).CombinedOutput(); err != nil {
			return nil, fmt.Errorf("go build %s: %w\n%s", from, err, said)
		}
	}
	number, secret := string(p.tools[len(p.tools)/2]), filepath.Join(work, "token")
	err = p.reopen(ctx, func() error {
		if said, err := exec.CommandContext(ctx, pawl, "--data", p.dir, "token", "add", filepath.Base(work), "--role", "manager", "-o", secret).CombinedOutput(); err != nil {
			return fmt.Errorf("token add: %w\n%s", err, said)
		}
		token, err := os.ReadFile(secret)
		if err != nil {
			return err
		}
		ours, least, err := inTurn(func() (time.Duration, error) {
			return firstAnswer(ctx, number, strings.TrimSpace(string(token)), pawl, "--data", p.dir, "serve", "--listen", "127.0.0.1:0")
		}, func() (time.Duration, error) { return firstAnswer(ctx, number, "", bareshop, shopFile(p.dir), "serve") })
		out = append(out, measured{what: "from the start on a folder to the first answer, the middle one", limit: "gin and SQLite doing the same", ours: ours.at(50), least: least.at(50), goal: 2})
		if err != nil {
			return err
		}
		ours, least, err = inTurn(func() (time.Duration, error) { return printed(ctx, pawl, "--data", p.dir, "show", number, "--json") },
			func() (time.Duration, error) { return printed(ctx, bareshop, shopFile(p.dir), "show", number) })
		out = append(out, measured{what: "pawl show, the middle one", limit: "SQLite doing the same", ours: ours.at(50), least: least.at(50), goal: 2})
		if err != nil {
			return err
		}
		ours, least, err = inTurn(func() (time.Duration, error) { return printed(ctx, pawl, "--data", p.dir, "show", number, "--json") },
			func() (time.Duration, error) { return printed(ctx, pawl, "--version") })
		out = append(out, measured{what: "the same", limit: "pawl --version, which only starts", ours: ours.at(50), least: least.at(50), goal: 2})
		return err
	})
	return out, err
}

// inTurn times two things, one after the other, again and again.
func inTurn(one, other func() (time.Duration, error)) (a, b times, err error) {
	for range starts {
		for i, do := range []func() (time.Duration, error){one, other} {
			d, err := do()
			if err != nil {
				return times{0}, times{0}, err
			}
			if i == 0 {
				a = append(a, d)
			} else {
				b = append(b, d)
			}
		}
	}
	return a, b, nil
}

// printed is how long a command takes that prints something.
func printed(ctx context.Context, argv ...string) (time.Duration, error) {
	return took(func() error {
		said, err := exec.CommandContext(ctx, argv[0], argv[1:]...).Output()
		if err == nil && len(said) == 0 {
			err = fmt.Errorf("%s prints nothing", strings.Join(argv, " "))
		}
		return err
	})
}

// firstAnswer starts a server, asks it for a tool as soon as it says where it listens,
// and stops it.
func firstAnswer(ctx context.Context, number, token string, argv ...string) (d time.Duration, err error) {
	server := exec.CommandContext(ctx, argv[0], argv[1:]...)
	said, err := server.StderrPipe()
	if err != nil {
		return 0, err
	}
	d, err = took(func() error {
		if err := server.Start(); err != nil {
			return err
		}
		for lines := bufio.NewScanner(said); lines.Scan(); {
			if _, at, found := strings.Cut(lines.Text(), "listening on "); found {
				return gives(ctx, strings.TrimSpace(at)+"/api/v1/tools/"+number, token)
			}
		}
		return fmt.Errorf("%s ended before it listened", argv[0])
	})
	if stopped := server.Process.Signal(os.Interrupt); err == nil {
		err = stopped
	}
	_, _ = io.Copy(io.Discard, said)
	_ = server.Wait() // by a signal
	return d, err
}

// gives asks for what must be there.
func gives(ctx context.Context, url, token string) error {
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, url, nil)
	if err != nil {
		return err
	}
	if token != "" {
		r.Header.Set("Authorization", "Bearer "+token)
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		return err
	}
	defer answer.Body.Close()
	if _, err := io.Copy(io.Discard, answer.Body); err != nil || answer.StatusCode != http.StatusOK {
		return fmt.Errorf("%s answers %s (%v)", url, answer.Status, err)
	}
	return nil
}
