package labels

import (
	"bytes"
	"io"
	"strings"
	"testing"

	"pawl/model/fault"
)

func slip(paper string) Slip {
	return Slip{Symbol: link, Number: "00E-KM5", What: "Tarn TW-200, torque wrench", Serial: "KD408B217", To: "Lab", Shop: "Demo garage",
		As: "2026-11-28 09:14", Holds: "4 % of reference, 40 to 200 N·m by 1 N·m", Unit: "N·m", Points: []string{"40", "120", "200"}, Readings: 5,
		BothWays: true, Paper: paper, Caution: "The vehicle maker's service information governs."}
}

func slipText(t *testing.T, s Slip) string {
	t.Helper()
	text, _ := drawnText(t, s.PDF, s.Symbol)
	return text
}

// drawnText draws a sheet twice, has it checked by qpdf and the symbol of its first page
// read by two decoders, and gives its text and how many pages it has.
func drawnText(t *testing.T, draw func(io.Writer) error, symbol string) (text string, pages int) {
	t.Helper()
	var b, again bytes.Buffer
	if err := draw(&b); err != nil {
		t.Fatal(err)
	}
	if err := draw(&again); err != nil || !bytes.Equal(b.Bytes(), again.Bytes()) {
		t.Errorf("drawn again, it is another document: %v", err)
	}
	path := keep(t, b.Bytes())
	outputOf(t, "qpdf", "--check", path)
	img := render(t, path, 1)
	if got, err := zxing(img); got != symbol {
		t.Errorf("gozxing reads %q, %v", got, err)
	}
	if got := zbar(t, img); len(got) != 1 || got[0] != symbol {
		t.Errorf("zbarimg reads %q", got)
	}
	raw := outputOf(t, "pdftotext", "-layout", path, "-")
	return strings.Join(strings.Fields(raw), " "), strings.Count(raw, "\f")
}

// TestCalibrationSlip: the slip names the tool and asks for what a shop can use; a gauge has no
// directions.
func TestCalibrationSlip(t *testing.T) {
	for _, paper := range []string{"letter", "a4"} {
		text := slipText(t, slip(paper))
		for _, want := range []string{"00E-KM5", "KD408B217", "Tarn TW-200, torque wrench", "4 % of reference", "AS FOUND first", "AS LEFT", "Both directions",
			"READINGS, not percents", "Points: 40, 120, 200 N·m, 5 readings or more at each.", "expanded uncertainty", "Confirm the serial number", "The vehicle maker's service information governs.",
			"When it is back", "a certificate that names that serial number"} {
			if !strings.Contains(text, want) {
				t.Errorf("%s: %q is not in %q", paper, want, text)
			}
		}
	}
	bare := slipText(t, Slip{Symbol: link, Number: "00E-KM5", What: "pressure gauge", Paper: "a4"})
	if strings.Contains(bare, "directions") || !strings.Contains(bare, "not recorded; please give it") || !strings.Contains(bare, "the unit of its scale") {
		t.Error(bare)
	}
}

// TestCalibrationSlipRefuses: a paper that is none, a number that would change; long texts are
// cut and the slip stays on its page.
func TestCalibrationSlipRefuses(t *testing.T) {
	for name, s := range map[string]Slip{"paper": slip("foolscap"), "number": {Symbol: link, Number: "扳", Paper: "a4"}} {
		if err := s.PDF(&bytes.Buffer{}); !fault.Is(err, fault.Invalid) {
			t.Errorf("%s: %v", name, err)
		}
	}
	foreign := slip("letter")
	foreign.What = "扭矩扳手"
	if err := foreign.PDF(&bytes.Buffer{}); !fault.Is(err, fault.Invalid) || !strings.Contains(err.Error(), "扭") {
		t.Errorf("letters that cannot be printed: %v", err)
	}
	if foreign.Marked = true; !strings.Contains(slipText(t, foreign), "????") {
		t.Error("marked, they are not there as ?")
	}
	long := slip("letter")
	text := strings.Repeat("very long words ", 60)
	long.What, long.Serial, long.To, long.Holds, long.Shop = text, text, text, text, text
	if got := slipText(t, long); !strings.Contains(got, ellipsis) {
		t.Error("nothing was cut")
	}
}
