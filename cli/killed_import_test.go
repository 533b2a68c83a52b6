package cli

import (
	"bufio"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pawl/api/wire"
)

// pawlBinary is the command as a program of its own: this very test program, by
// the name under which TestMain runs it as the command.
func pawlBinary(t *testing.T) string {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(t.TempDir(), "pawl")
	if err := os.Symlink(self, name); err != nil {
		t.Fatal(err)
	}
	return name
}

// killedImport starts an import of photos and ends it with SIGKILL after that
// many requests to the shop and that long. Killed is false if it ended before.
func killedImport(t *testing.T, binary, data, folder string, requests int, later time.Duration) (killed bool, asked int) {
	t.Helper()
	cmd := exec.Command(binary, "--data", data, "--debug", "import", "photos", folder)
	log, err := cmd.StderrPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	said := bufio.NewScanner(log)
	for asked < requests && said.Scan() {
		if strings.Contains(said.Text(), `"msg":"request"`) {
			asked++
		}
	}
	if asked == requests {
		<-time.After(later) // so that it dies within a request too, and not after one alone
		if err := cmd.Process.Kill(); err != nil && err != os.ErrProcessDone {
			t.Fatal(err)
		}
	}
	if _, err := io.Copy(io.Discard, log); err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err != nil && cmd.ProcessState.ExitCode() != -1 {
		t.Fatalf("the import failed by itself: %v", err)
	}
	return cmd.ProcessState.ExitCode() == -1, asked
}

// register says what a shop holds, in words that do not depend on when it was
// recorded: each tool with its photos and how often each sort of line was
// written, the numbers that are free, and what is unsorted.
func registerOf(t *testing.T, data string) string {
	t.Helper()
	var all []string
	var tools wire.Tools
	pawl(t, data, &tools, "find", "--json")
	for _, row := range tools.Tools {
		var tool wire.Tool
		pawl(t, data, &tool, "show", row.Number, "--json")
		var photos []string
		for _, e := range tool.Evidence {
			photos = append(photos, fmt.Sprintf("%s %s %s %s", e.Kind, e.Name, e.SHA256, text(e.ClaimedAt)))
		}
		slices.Sort(photos)
		var history wire.History
		pawl(t, data, &history, "history", row.Number, "--json")
		lines := map[string]int{}
		for _, l := range history.History {
			lines[l.Verb+" "+l.Noun]++
		}
		all = append(all, fmt.Sprintf("%s %q %s %s: %s; lines %v", row.Number, row.Kind, row.Owner, text(row.Place), strings.Join(photos, ", "), lines))
	}
	var left wire.Unsorted
	pawl(t, data, &left, "evidence", "unsorted", "--json")
	var unsorted []string
	for _, u := range left.Unsorted {
		unsorted = append(unsorted, "unsorted "+u.Name+" "+u.SHA256)
	}
	slices.Sort(unsorted)
	return strings.Join(append(all, unsorted...), "\n")
}

// copied gives a copy of a shop's folder.
func copied(t *testing.T, data string) string {
	t.Helper()
	to := filepath.Join(t.TempDir(), "shop")
	if err := os.CopyFS(to, os.DirFS(data)); err != nil {
		t.Fatal(err)
	}
	return to
}

// TestKilledImportOfPhotos ends an import of photos with SIGKILL at a random
// point, twice, and runs it again: the register is that of an import that nobody
// disturbed, whatever was under way.
func TestKilledImportOfPhotos(t *testing.T) {
	t.Parallel()
	n, rounds := 3, 3
	switch os.Getenv("PAWL_SIZE") {
	case "ci":
		n, rounds = 5, 6
	case "full":
		n, rounds = 40, 60
	}
	data, folder, numbers := walkedShop(t, n)
	pawl(t, data, nil, "people", "add", "Tech A", "--role", "technician")
	early, err := os.ReadFile(filepath.Join(folder, "IMG_8998.JPG"))
	if err != nil {
		t.Fatal(err)
	}
	for name, b := range map[string][]byte{
		"IMG_0001.JPG": stamped(early, time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC)), // before the first label
		"again.jpg":    early,                                                         // the same bytes twice
	} {
		if err := os.WriteFile(filepath.Join(folder, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	binary := pawlBinary(t)
	undisturbed := copied(t, data)
	ran, total := killedImport(t, binary, undisturbed, folder, 1<<30, 0)
	want := registerOf(t, undisturbed)
	if ran || total < 6*n || !strings.HasPrefix(want, numbers[0]+" ") || strings.Count(want, "unsorted ") != 1 {
		t.Fatalf("undisturbed: %d requests\n%s", total, want)
	}
	rng := rand.New(rand.NewPCG(3, 4))
	died := 0
	for round := range rounds {
		shop := copied(t, data)
		var points []int
		for range 2 {
			requests := 1 + rng.IntN(total-1)
			killed, _ := killedImport(t, binary, shop, folder, requests, time.Duration(rng.IntN(5000))*time.Microsecond)
			if killed {
				died++
			}
			points = append(points, requests)
		}
		pawl(t, shop, nil, "import", "photos", folder)
		if got := registerOf(t, shop); got != want {
			t.Errorf("round %d, killed after %v of %d requests:\n%s\nwant\n%s", round, points, total, got, want)
		}
		pawl(t, shop, nil, "verify")
	}
	if died < rounds {
		t.Errorf("only %d of %d imports were killed before their end", died, 2*rounds)
	}
	t.Logf("%d imports were killed, of %d photos each", died, 3*n+2)
}
