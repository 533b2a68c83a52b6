package labels

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"pawl/model/fault"
	"pawl/model/needs"
)

// signedNote is a checkpoint in the form of C2SP tlog-checkpoint, with an invented root
// and signature.
const signedNote = "pawl/0123456789abcdef\n1423\nCsUYapGGPo4dkMgIAUqom/Xajj7h2fB2MPA3j2jxq2I=\n\n" +
	"— pawl/0123456789abcdef Az3grlgtzPICa5OS8npVmf1Myq/5IZniMp+ZJurmRDeOoRDe4URYN7u5/Zhcyv2q1gGzGku9nTo+zyWE+xeMcTOAYQ8=\n"

func countReportOf(paper string) CountReport {
	line := func(number, what, result string, loud bool, more ...string) CountLine {
		return CountLine{number, what, result, loud, more}
	}
	return CountReport{
		ID: "N-7K2M4Q9XC", Scope: "Everything in Bay 1, a sample", Shop: "Gull Lane Garage", As: "2026-11-29 09:14", Paper: paper,
		Facts: []CountFact{{"Started", "2026-11-25 08:10 by Tech A"}, {"Closed", "2026-11-25 11:40 by Tech A"}, {"Counted by", "Tech A, Tech B"}},
		Draw: &CountDraw{Checkpoint: signedNote, Nonce: "00112233445566778899aabbccddeeff00112233445566778899aabbccddeeff",
			Seed: "fc83470c48b45549fdde2a0bbb99c88de855599b350824f2b7ded4d3bed92374", When: "2026-11-25 08:10"},
		Figures:   []CountFact{{"Listed", "100"}, {"Looked for", "45"}, {"Seen", "43"}, {"Missing", "2"}},
		Statement: []string{"Listed tools only.", "With confidence 95 % at most 11 of 100 are missing."},
		Sections: []CountSection{
			{"Differences", "Nothing differed.", []CountLine{
				line("00E-KM5", "Brindle BX-900, impact wrench", "NOT SEEN", true, "expected in Bay 1/Cart", "Settled: searched for and not found, Tech A, 2026-11-25 11:30"),
				line("00F-3T8", "Tarn TW-200, torque wrench", "SEEN ELSEWHERE", true, "expected in Bay 1/Cart; seen in Bay 2, Tech B, 09:02", "NOT SETTLED"),
			}},
			{"Not seen since", "", nil},
			{"Pieces missing", "No piece was missing.", nil},
		},
		Places: []CountSection{{"Bay 1/Cart", "", []CountLine{line("00G-PPA", "Brindle socket set", "seen", false, "Tech B, 09:01")}}},
	}
}

func countText(t *testing.T, s CountReport) (text, path string) {
	t.Helper()
	var b, again bytes.Buffer
	if err := s.PDF(&b); err != nil {
		t.Fatal(err)
	}
	if err := s.PDF(&again); err != nil || !bytes.Equal(b.Bytes(), again.Bytes()) {
		t.Errorf("drawn again, it is another document: %v", err)
	}
	path = keep(t, b.Bytes())
	outputOf(t, "qpdf", "--check", path)
	return strings.Join(strings.Fields(outputOf(t, "pdftotext", "-layout", path, "-")), " "), path
}

// However long maker, model and the name of the shop are, the serial number of a tool that
// was not seen is printed whole, and each page says which it is.
func TestCountReportOfLongNames(t *testing.T) {
	s := countReportOf("letter")
	s.Shop = strings.Repeat("Hinterhuber-Schwarzenbacher & Successors ", 4)
	s.Sections[0].Rows[0].What = "Brindle & Daughters Precision Tools of Seaview TW-2000-EXTRA-LONG-40-200, torque wrench, serial number KD408-B217-0123456789"
	text, _ := countText(t, s)
	pages := strings.Count(text, "Count N-7K2M4Q9XC, drawn")
	for _, want := range []string{"KD408-B217-0123456789", fmt.Sprintf("Page %d of %d.", pages, pages)} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in %q", want, text)
		}
	}
}

func TestCountReport(t *testing.T) {
	for _, paper := range []string{"letter", "a4"} {
		text, path := countText(t, countReportOf(paper))
		for _, want := range []string{"Count N-7K2M4Q9XC", "Everything in Bay 1, a sample", "Gull Lane Garage, 2026-11-29 09:14", "Started 2026-11-25 08:10 by Tech A",
			"Counted by Tech A, Tech B", "fc83470c48b45549fdde2a0bbb99c88de855599b350824f2b7ded4d3bed92374", "With confidence 95 % at most 11 of 100 are missing.",
			"Differences (2)", "00E-KM5 Brindle BX-900, impact wrench NOT SEEN", "Settled: searched for and not found", "NOT SETTLED", "No piece was missing.",
			"The list, by place", "Bay 1/Cart (1)", "00G-PPA Brindle socket set seen", "Page 1 of"} {
			if !strings.Contains(text, want) {
				t.Errorf("%s: %q is not in %q", paper, want, text)
			}
		}
		for _, no := range []string{"CHOSEN", "DRAWN AGAIN", "NOT CLOSED", "Not seen since"} {
			if strings.Contains(text, no) {
				t.Errorf("%s: %q is there", paper, no)
			}
		}
		if paper == "letter" { // the slow half of this test
			wantNote(t, path)
		}
	}
}

// wantNote decodes the checkpoint from the first page, byte for byte, by both judges.
func wantNote(t *testing.T, path string) {
	t.Helper()
	img := render(t, path, 1)
	if got, err := zxing(img); got != signedNote {
		t.Errorf("gozxing reads %q, %v", got, err)
	}
	file := filepath.Join(t.TempDir(), "page")
	outputOf(t, "pdftoppm", "-r", "300", "-png", "-singlefile", "-f", "1", "-l", "1", path, file)
	out, err := exec.Command(needs.Program(t, "zbarimg"), "--raw", "-q", "-Sdisable", "-Sqrcode.enable", file+".png").Output()
	if got := strings.TrimSuffix(string(out), "\n"); err != nil || got != signedNote {
		t.Errorf("zbarimg reads %q, %v", got, err)
	}
}

func TestCountReportSaysWhatWeakensIt(t *testing.T) {
	r := countReportOf("a4")
	r.Open, r.Statement = true, nil
	r.Draw = &CountDraw{Chosen: "7", Redraw: "A sample of the same was drawn before, in count N-2222222AA.", Seed: r.Draw.Seed, When: r.Draw.When}
	text, _ := countText(t, r)
	for _, want := range []string{"THIS COUNT IS NOT CLOSED", "CHOSEN SEED 7", "DRAWN AGAIN", "N-2222222AA", `"pawl chosen seed 7"`} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in %q", want, text)
		}
	}
	if strings.Contains(text, "What this count shows") {
		t.Error("an open count shows something")
	}
	r.Draw = nil
	if text, _ := countText(t, r); strings.Contains(text, "drawn from") || strings.Contains(text, "Seed") {
		t.Error("a full count speaks of a draw")
	}
}

func TestCountReportRefuses(t *testing.T) {
	paper, number := countReportOf("foolscap"), countReportOf("a4")
	number.Places[0].Rows[0].Number = "扳"
	long := countReportOf("a4")
	long.Draw.Checkpoint = strings.Repeat("x", 4000)
	for name, r := range map[string]CountReport{"paper": paper, "number": number, "checkpoint": long} {
		if err := r.PDF(&bytes.Buffer{}); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestLongCountReport: a thousand tools with long texts; every number is there once,
// and no heading stands alone at the foot of a page.
func TestLongCountReport(t *testing.T) {
	r := countReportOf("letter")
	r.Sections, r.Places = nil, nil
	for p := range 50 {
		s := CountSection{Title: fmt.Sprintf("Bay %d/Cabinet", p)}
		for i := range 20 {
			s.Rows = append(s.Rows, CountLine{Number: fmt.Sprintf("%03d-%03d", p, i), What: strings.Repeat("long words ", 30), Result: "seen", More: []string{strings.Repeat("more words ", i*4)}})
		}
		r.Places = append(r.Places, s)
	}
	text, path := countText(t, r)
	for p := range 50 {
		for i := range 20 {
			if n := strings.Count(text, fmt.Sprintf("%03d-%03d ", p, i)); n != 1 {
				t.Fatalf("%03d-%03d is there %d times", p, i, n)
			}
		}
	}
	for page := range strings.SplitSeq(outputOf(t, "pdftotext", "-layout", path, "-"), "\f") {
		lines := strings.Split(strings.TrimSpace(page), "\n")
		if len(lines) < 3 {
			continue
		}
		var last string
		for _, line := range lines[:len(lines)-1] {
			if line = strings.TrimSpace(line); line != "" {
				last = line
			}
		}
		if strings.HasPrefix(last, "Bay ") {
			t.Errorf("%q stands alone at the foot of a page", last)
		}
	}
	if folder := os.Getenv("PAWL_PICTURES"); folder != "" {
		outputOf(t, "pdftoppm", "-r", "60", "-png", "-l", "3", path, filepath.Join(folder, "count-long"))
	}
}
