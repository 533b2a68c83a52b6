package cli_test

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// commands are the command lines of the README: what stands four spaces in,
// with continued lines joined.
func commands(t *testing.T) (out []string) {
	t.Helper()
	text, err := os.ReadFile("../README.md")
	if err != nil {
		t.Fatal(err)
	}
	joined := strings.ReplaceAll(string(text), "\\\n", " ")
	for _, m := range regexp.MustCompile(`(?m)^    (\S.*)$`).FindAllStringSubmatch(joined, -1) {
		out = append(out, m[1])
	}
	return out
}

// TestReadme runs every command of the README, in its order, in one folder, as
// a shell would. The test command is the one exception: this is it.
func TestReadme(t *testing.T) {
	all := commands(t)
	if len(all) < 2 || all[0] != "go run . demo" || all[1] != "go test ./..." {
		t.Fatalf("the README does not begin with the two commands: %q", all)
	}
	work := t.TempDir()
	photo(t, filepath.Join(work, "plate.jpg"), 90)
	photo(t, filepath.Join(work, "tool.jpg"), 180)
	photo(t, filepath.Join(work, "slip.jpg"), 210)
	paper := "%PDF-1.4\n1 0 obj<</Type/Catalog>>endobj\ntrailer<</Root 1 0 R>>\n%%EOF\n"
	if err := os.WriteFile(filepath.Join(work, "receipt.pdf"), []byte(paper), 0o600); err != nil {
		t.Fatal(err)
	}
	url := ""
	for _, line := range all {
		switch {
		case line == "go test ./...":
		case line == "go run . demo":
			shell(t, work, "pawl demo")
		case strings.Contains(line, " serve "):
			s := serve(t, filepath.Join(work, "shop"), itself)
			defer s.stop(t)
			url = s.url
		case strings.Contains(line, " import photos "):
			walk(t, work)
			shell(t, work, line)
		default:
			shell(t, work, strings.ReplaceAll(line, "http://127.0.0.1:8080", url))
		}
	}
	compareFiles(t, filepath.Join(work, "label.png"), "../testdata/readme/label.png")
}

func shell(t *testing.T, dir, line string) {
	t.Helper()
	cmd := exec.Command("sh", "-c", line)
	cmd.Dir = dir
	cmd.Env = append(os.Environ(), "HOME="+dir)
	if said, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%s: %v\n%s", line, err, said)
	}
}

func compareFiles(t *testing.T, got, want string) {
	t.Helper()
	a, err := os.ReadFile(got)
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(want)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a, b) {
		t.Errorf("%s is not what the walk-through prints; look at the new one and keep it", want)
	}
}

// walk fills the folder DCIM with photos: of a bench, of the label that was
// printed, of a tool.
func walk(t *testing.T, work string) {
	t.Helper()
	folder := filepath.Join(work, "DCIM")
	if err := os.Mkdir(folder, 0o700); err != nil {
		t.Fatal(err)
	}
	photo(t, filepath.Join(folder, "IMG_0001.JPG"), 60)
	f, err := os.Open(filepath.Join(work, "label.png"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	label, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	seen := image.NewGray(image.Rect(0, 0, 640, 480))
	draw.Draw(seen, seen.Rect, image.NewUniform(color.Gray{120}), image.Point{}, draw.Src)
	draw.Draw(seen, label.Bounds().Add(image.Pt(60, 100)), label, image.Point{}, draw.Src)
	save(t, filepath.Join(folder, "IMG_0002.JPG"), seen)
	photo(t, filepath.Join(folder, "IMG_0003.JPG"), 150)
}

func photo(t *testing.T, path string, gray uint8) {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, 640, 480))
	for i := range img.Pix {
		img.Pix[i] = gray
	}
	img.SetGray(1, 1, color.Gray{255 - gray})
	save(t, path, img)
}

func save(t *testing.T, path string, img image.Image) {
	t.Helper()
	var out bytes.Buffer
	if err := jpeg.Encode(&out, img, nil); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, out.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
}
