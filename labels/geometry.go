package labels

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"pawl/model/fault"
)

// geometryExample is a geometry as it is written.
const geometryExample = "paper=letter cols=3 rows=10 w=66.675 h=25.4 left=4.7625 top=12.7 px=69.85 py=25.4"

// maxGeometry is the longest geometry that is read, in bytes.
const maxGeometry = 300

// ParseSheet reads a sheet as people name it: by the name of a built-in
// geometry, or as one of their own, in words such as
//
//	paper=letter cols=3 rows=10 w=66.675 h=25.4 left=4.7625 top=12.7 px=69.85 py=25.4
//
// in any order. Paper is letter, a4 or WIDTHxHEIGHT; lengths are millimeters
// with at most four decimals; px and py, the pitch from corner to corner, may
// be left out where there is one column or one row. What comes out has passed
// Check.
func ParseSheet(text string) (Sheet, error) {
	if !strings.Contains(text, "=") {
		s, err := SheetByName(text)
		if f := fault.Of(err); f != nil {
			return s, f.WithHint("%s; or give your own geometry: %s", f.Hint, geometryExample)
		}
		return s, nil
	}
	if len(text) > maxGeometry {
		return Sheet{}, fault.New(fault.Invalid, "a geometry of %d bytes; at most %d are read", len(text), maxGeometry)
	}
	words, err := geometryWords(text)
	if err != nil {
		return Sheet{}, err
	}
	return readGeometry(words)
}

// geometryKeys are the words of a geometry, in the order in which it is written.
var geometryKeys = []string{"paper", "cols", "rows", "w", "h", "left", "top", "px", "py"}

// geometryWords splits a geometry into its words; each may stand once.
func geometryWords(text string) (map[string]string, error) {
	words := map[string]string{}
	for _, word := range strings.Fields(text) {
		key, value, found := strings.Cut(word, "=")
		if !found || !slices.Contains(geometryKeys, key) {
			return nil, fault.New(fault.Invalid, "%.40q is not part of a geometry", word).
				WithHint("write it like %s", geometryExample)
		}
		if _, twice := words[key]; twice {
			return nil, fault.New(fault.Invalid, "%s stands twice in the geometry", key).WithHint("give it once")
		}
		words[key] = value
	}
	var missing []string
	for _, key := range geometryKeys {
		single := key == "px" && words["cols"] == "1" || key == "py" && words["rows"] == "1"
		if _, given := words[key]; !given && !single {
			missing = append(missing, key)
		}
	}
	if len(missing) > 0 {
		return nil, fault.New(fault.Invalid, "the geometry lacks %s", strings.Join(missing, ", ")).
			WithHint("measure the sheet, and write it like %s", geometryExample)
	}
	return words, nil
}

// readGeometry reads the words' values and runs the self-test.
func readGeometry(words map[string]string) (s Sheet, err error) {
	var bad fault.Problems
	length := func(key string) float64 {
		mm, err := millimeters(words[key])
		if err != nil && words[key] != "" {
			bad.Keep("#/"+key, err)
		} else if err != nil && key != "px" && key != "py" {
			bad.Add("#/"+key, "%s is empty", key)
		}
		return mm
	}
	count := func(key string) int {
		n, err := strconv.Atoi(words[key])
		if err != nil || n < 1 || n > 100 || strconv.Itoa(n) != words[key] {
			bad.Add("#/"+key, "%s is %.20q; give a whole number from 1 to 100", key, words[key])
		}
		return n
	}
	s.Paper, s.PaperW, s.PaperH, err = readPaper(words["paper"])
	bad.Keep("#/paper", err)
	s.Cols, s.Rows, s.W, s.H = count("cols"), count("rows"), length("w"), length("h")
	s.Left, s.Top, s.PitchX, s.PitchY = length("left"), length("top"), length("px"), length("py")
	if err := bad.Err(); err != nil {
		return Sheet{}, err
	}
	s.Name = fmt.Sprintf("own %s-%dx%d", s.Paper, s.Cols, s.Rows)
	return s, s.Check()
}

// readPaper reads letter, a4, or a size such as 62x100 in millimeters.
func readPaper(text string) (name string, w, h float64, err error) {
	if p, known := papers[text]; known {
		return text, p[0], p[1], nil
	}
	across, along, found := strings.Cut(text, "x")
	if w, err = millimeters(across); err == nil && found {
		h, err = millimeters(along)
	}
	if err != nil || !found {
		return "", 0, 0, fault.New(fault.Invalid, "%.40q is not a paper", text).WithHint("use letter, a4, or its size in mm such as 62x100")
	}
	return millimetersText(w) + "x" + millimetersText(h), w, h, nil
}

// millimeters reads a plain length such as 25.4, from 0 up to 2000.
func millimeters(text string) (float64, error) {
	whole, part, point := strings.Cut(text, ".")
	digits := func(s string, most int) bool {
		return s != "" && len(s) <= most && strings.Trim(s, "0123456789") == ""
	}
	mm, err := strconv.ParseFloat(text, 64)
	if err != nil || !digits(whole, 4) || point && !digits(part, 4) || mm > 2000 {
		return 0, fault.New(fault.Invalid, "%.20q is not a length", text).WithHint("in mm with at most four decimals, such as 25.4")
	}
	return mm, nil
}

// millimetersText writes a length as millimeters reads it.
func millimetersText(mm float64) string {
	return strconv.FormatFloat(math.Round(mm*1e4)/1e4, 'f', -1, 64)
}

// Geometry writes a sheet as ParseSheet reads it.
func (s Sheet) Geometry() string {
	paper := s.Paper
	if _, known := papers[paper]; !known {
		paper = millimetersText(s.PaperW) + "x" + millimetersText(s.PaperH)
	}
	text := fmt.Sprintf("paper=%s cols=%d rows=%d", paper, s.Cols, s.Rows)
	for i, mm := range []float64{s.W, s.H, s.Left, s.Top, s.PitchX, s.PitchY} {
		text += " " + geometryKeys[3+i] + "=" + millimetersText(mm)
	}
	return text
}
