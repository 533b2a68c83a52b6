package labels

import (
	"strings"

	qrcode "github.com/skip2/go-qrcode"

	"pawl/model/fault"
)

// Level is how much of a symbol may be lost before it no longer reads. The
// zero Level stands for Q where a symbol is encoded, and on prints for H with
// the room that a rubbed symbol needs.
type Level byte

// The levels of ISO/IEC 18004, with their nominal share of codewords restored.
const (
	L Level = iota + 1 // 7 %
	M                  // 15 %
	Q                  // 25 %
	H                  // 30 %
)

// String returns the letter of the level.
func (l Level) String() string {
	return string("QLMQH"[min(l, H)])
}

// ParseLevel reads L, M, Q or H, in either case.
func ParseLevel(s string) (Level, error) {
	i := strings.Index("LMQH", strings.ToUpper(s))
	if len(s) != 1 || i < 0 {
		return 0, fault.New(fault.Invalid, "unknown level %q", s).WithHint("use L, M, Q or H")
	}
	return L + Level(i), nil
}

// quiet is the width of the quiet zone in modules (ISO/IEC 18004).
const quiet = 4

// Symbol is one encoded QR Code (Model 2), without its quiet zone.
type Symbol struct {
	Version int      // 1 to 40
	Level   Level    // the level it was drawn at
	Modules [][]bool // Modules[y][x] is true where black
}

// Side returns the modules along one side: 17 + 4·Version.
func (s *Symbol) Side() int { return len(s.Modules) }

// Encode draws payload as the smallest symbol that holds it at level want, and
// then at the highest level that costs no size. The alphabet 0-9 A-Z and
// " $%*+-./:" takes less room than other characters. The payload is printable
// ASCII: beyond it, readers guess the character set.
func Encode(payload string, want Level) (*Symbol, error) {
	if want == 0 {
		want = Q
	}
	if want > H {
		return nil, fault.New(fault.Invalid, "unknown level %d", want).WithHint("use L, M, Q or H")
	}
	if err := checkPayload(payload); err != nil {
		return nil, err
	}
	code, err := qrcode.New(payload, drawn[want])
	if err != nil {
		return nil, fault.At("#/symbol", "%d characters are too long for a QR symbol at level %v", len(payload), want).
			WithHint("shorten the text").WithCause(err)
	}
	for want < H {
		stronger, err := qrcode.New(payload, drawn[want+1])
		if err != nil || stronger.VersionNumber > code.VersionNumber {
			break
		}
		code, want = stronger, want+1
	}
	return drawnCode(code, want), nil
}

func drawnCode(code *qrcode.QRCode, level Level) *Symbol {
	code.DisableBorder = true // counts only before the first drawing
	return &Symbol{Version: code.VersionNumber, Level: level, Modules: code.Bitmap()}
}

// leastVersion is that of what is printed without a level asked for, at level H.
// A square patch of a tenth of the symbol, rubbed off away from the finder
// patterns, leaves one in four of version 1 unread at any level; from versions 2
// and 3 it takes the only alignment pattern so often that readers lose one in
// five and one in ten. Of version 4 they read more than nine in ten.
const leastVersion = 4

// encodeStrong draws payload at level H as a symbol of at least leastVersion.
// A level that is asked for is drawn as small as by Encode.
func encodeStrong(payload string, want Level) (*Symbol, error) {
	if want != 0 {
		return Encode(payload, want)
	}
	if err := checkPayload(payload); err != nil {
		return nil, err
	}
	code, err := qrcode.NewWithForcedVersion(payload, leastVersion, drawn[H])
	if err != nil { // too long for that version
		return Encode(payload, H)
	}
	return drawnCode(code, H), nil
}

// drawn gives each level its name in the library, whose High is Q.
var drawn = [...]qrcode.RecoveryLevel{L: qrcode.Low, M: qrcode.Medium, Q: qrcode.High, H: qrcode.Highest}

func checkPayload(payload string) error {
	if payload == "" {
		return fault.At("#/symbol", "nothing to put into the symbol")
	}
	for i := 0; i < len(payload); i++ {
		if c := payload[i]; c < ' ' || c > '~' {
			return fault.At("#/symbol", "byte %d of %q is not printable ASCII", i+1, payload).
				WithHint("write it percent-encoded; readers guess the character set of anything else")
		}
	}
	return nil
}

// bar is a horizontal run of black modules, one module high.
type bar struct{ x, y, w int }

// bars returns the black modules of a symbol as horizontal runs, top to bottom.
func (s *Symbol) bars() []bar {
	var bars []bar
	for y, row := range s.Modules {
		for x := 0; x < len(row); x++ {
			start := x
			for x < len(row) && row[x] {
				x++
			}
			if x > start {
				bars = append(bars, bar{start, y, x - start})
			}
		}
	}
	return bars
}
