package cli_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"image"
	"image/png"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"pawl/model/fault"
)

// smallDisk is a disk of so many megabytes in memory. Not to be allowed to mount one is
// no missing component: most containers refuse it to root too, so that it skips in CI as
// well, and .ci/run says so beforehand.
func smallDisk(t *testing.T, megabytes string) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "disk")
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	if said, err := exec.Command("mount", "-t", "tmpfs", "-o", "size="+megabytes+"m", "tmpfs", dir).CombinedOutput(); err != nil {
		t.Skipf("NOT TESTED, how a full disk is borne: a small one cannot be mounted here, which takes root and CAP_SYS_ADMIN: %s", bytes.TrimSpace(said))
	}
	t.Cleanup(func() {
		if said, err := exec.Command("umount", dir).CombinedOutput(); err != nil {
			t.Errorf("umount: %s", said)
		}
	})
	return dir
}

// fill writes until there is no room.
func fill(t *testing.T, path string) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for piece := make([]byte, 64<<10); len(piece) > 0; {
		if _, err := f.Write(piece); errors.Is(err, syscall.ENOSPC) {
			piece = piece[:len(piece)/2]
		} else if err != nil {
			t.Fatal(err)
		}
	}
}

// TestDiskFullAndBack fills the disk under a running server. Acts and uploads are refused
// in words and can be asked for again; tools are still shown; and when there is room
// again the same server goes on, with nothing lost or doubled.
func TestDiskFullAndBack(t *testing.T) {
	t.Parallel()
	disk := smallDisk(t, "24")
	made, token, numbers := shopFolder(t, itself, 1)
	data, filler := filepath.Join(disk, "shop"), filepath.Join(disk, "filler")
	if err := os.CopyFS(data, os.DirFS(made)); err != nil {
		t.Fatal(err)
	}
	s := serve(t, data, itself)
	c := connect(s.url, token)
	w := &worker{tool: numbers[0]}
	step := func() error { return w.step(t.Context(), c) }
	for range 4 {
		if err := step(); err != nil {
			t.Fatal(err)
		}
	}
	for round := range size(1, 2, 20) {
		photo := noise(t, int64(round))
		fill(t, filler)
		var full error
		for range 3000 { // what the log has room for is still taken
			if full = step(); full != nil {
				break
			}
		}
		if f := fault.Of(full); f == nil || f.Kind != fault.Unavailable || !strings.Contains(f.Message, "full") && !strings.Contains(f.Message, "may or may not") {
			t.Fatalf("round %d, a full disk: %v, want Unavailable that names it, after %d acts", round, full, w.acts)
		}
		if _, _, err := c.Tool(t.Context(), w.tool); err != nil {
			t.Errorf("a tool is not shown: %v", err)
		}
		if status := put(t, s.url, token, photo); status != http.StatusServiceUnavailable {
			t.Errorf("an upload to a full disk is answered with %d", status)
		}
		if err := os.Remove(filler); err != nil {
			t.Fatal(err)
		}
		for range 4 { // the one that was refused is asked again under its key, and others follow
			if err := step(); err != nil {
				t.Fatalf("round %d, with room again: %v", round, err)
			}
		}
		if status := put(t, s.url, token, photo); status != http.StatusCreated && status != http.StatusOK {
			t.Errorf("with room again an upload is answered with %d", status)
		}
	}
	s.stop(t)
	run(t, nil, itself, "--data", data, "verify")
	checkHistory(t, data, itself, token, w)
	t.Logf("%d acts on a disk that was full, and had room again, %d times", w.acts, size(1, 2, 20))
}

// noise is a photo of some hundred kilobytes that no compression makes less of.
func noise(t *testing.T, seed int64) []byte {
	t.Helper()
	m, rng := image.NewGray(image.Rect(0, 0, 500, 500)), rand.New(rand.NewPCG(uint64(seed), 3))
	for i := range m.Pix {
		m.Pix[i] = byte(rng.Uint32())
	}
	var b bytes.Buffer
	if err := png.Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// put uploads a photo and gives the status.
func put(t *testing.T, url, token string, photo []byte) int {
	t.Helper()
	sum := sha256.Sum256(photo)
	r, err := http.NewRequest(http.MethodPut, url+"/api/v1/evidence/"+hex.EncodeToString(sum[:]), bytes.NewReader(photo))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Authorization", "Bearer "+token)
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	return answer.StatusCode
}
