package calibration

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"pawl/model/fault"
	"pawl/model/units"
)

const (
	maxFile = 1 << 20
	maxRows = 10_000
)

// ParseReadingsFile reads the points of a small file, UTF-8, at most 1 MiB:
//
//   - CSV with the header phase,direction,set,delivered, a reading a row;
//   - CSV with the header set,reading: as left, in direction d;
//   - text with a line of readings as ParseReadings takes them, after a heading
//     "as found" or "as left"; without a heading they are as left. A line that
//     starts with # is a remark.
//
// Anything else is fault.Invalid, with the row.
func ParseReadingsFile(data []byte, unit units.Unit, d Direction) (found, left []Point, err error) {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	switch {
	case len(data) > maxFile:
		return nil, nil, fault.New(fault.TooLarge, "the file has %d bytes", len(data)).WithHint("readings fit in %d", maxFile)
	case !utf8.Valid(data):
		return nil, nil, fault.New(fault.Invalid, "the file is not UTF-8 text").WithHint("save it as CSV in UTF-8")
	}
	if textLines(string(data)) {
		return parseLines(string(data), unit, d)
	}
	return parseCSV(data, unit, d)
}

// textLines says whether the file holds lines of readings rather than CSV.
func textLines(text string) bool {
	for line := range strings.Lines(text) {
		if line = strings.TrimSpace(line); line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		_, heading := phaseOf(line)
		return heading || strings.Contains(line, "=")
	}
	return false
}

// phaseOf reads a phase as people write it.
func phaseOf(s string) (Phase, bool) {
	switch strings.ToLower(strings.TrimSpace(strings.NewReplacer("-", " ", "_", " ", ":", "").Replace(s))) {
	case "as found", "found":
		return AsFound, true
	case "as left", "left":
		return AsLeft, true
	}
	return "", false
}

func parseLines(text string, unit units.Unit, d Direction) (found, left []Point, err error) {
	phase, row := AsLeft, 0
	for line := range strings.Lines(text) {
		row++
		if line = strings.TrimSpace(line); line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		if p, heading := phaseOf(line); heading {
			phase = p
			continue
		}
		points, err := ParseReadings(line, unit, d)
		if err != nil {
			return nil, nil, inRow(err, row)
		}
		into := &left
		if phase == AsFound {
			into = &found
		}
		for _, p := range points {
			if find(*into, p.Direction, p.Set) >= 0 {
				return nil, nil, inRow(fault.New(fault.Invalid, "the point %s%s is there twice", prefix(p.Direction), p.Set).WithHint("put all its readings on one line"), row)
			}
		}
		*into = append(*into, points...)
	}
	return found, left, tooMany(max(len(found), len(left)), maxPoints, "points")
}

// inRow says in which row of the file the mistake is.
func inRow(err error, row int) error {
	f := fault.Of(err)
	return fault.New(f.Kind, "row %d: %s", row, f.Message).WithHint("%s", f.Hint)
}

var (
	longHeader  = []string{"phase", "direction", "set", "delivered"}
	shortHeader = []string{"set", "reading"}
)

func parseCSV(data []byte, unit units.Unit, d Direction) (found, left []Point, err error) {
	reader := csv.NewReader(bytes.NewReader(data))
	reader.TrimLeadingSpace, reader.FieldsPerRecord = true, 0
	header, err := reader.Read()
	if err != nil {
		return nil, nil, notReadings()
	}
	for i := range header {
		header[i] = strings.ToLower(strings.TrimSpace(header[i]))
	}
	if !slices.Equal(header, longHeader) && !slices.Equal(header, shortHeader) {
		return nil, nil, notReadings()
	}
	c := csvReadings{unit: unit, direction: d}
	for {
		cells, err := reader.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		row := 0
		if err == nil {
			row, _ = reader.FieldPos(0)
			err = c.row(cells)
		} else {
			var broken *csv.ParseError
			if errors.As(err, &broken) {
				row = broken.Line
			}
			err = fault.New(fault.Invalid, "the row does not have %d cells", len(header)).WithHint("a reading a row: %s", strings.Join(header, ","))
		}
		if err != nil {
			return nil, nil, inRow(err, row)
		}
	}
	if len(c.found)+len(c.left) == 0 {
		return nil, nil, fault.New(fault.Invalid, "the file has no readings").WithHint("put a reading in each row below the header")
	}
	return c.found, c.left, nil
}

func notReadings() error {
	return fault.New(fault.Invalid, "the file is not one of readings").
		WithHint("start a CSV file with the header phase,direction,set,delivered or set,reading, or write lines such as 40=39.7,39.8")
}

type csvReadings struct {
	unit        units.Unit
	direction   Direction
	rows        int
	found, left []Point
}

func (c *csvReadings) row(cells []string) error {
	if c.rows++; c.rows > maxRows {
		return tooMany(c.rows, maxRows, "rows")
	}
	phase, direction := AsLeft, c.direction
	if len(cells) == len(longHeader) {
		p, known := phaseOf(cells[0])
		if !known {
			return fault.New(fault.Invalid, "%q is not a phase", fault.Clip(cells[0])).WithHint("as found or as left")
		}
		phase = p
		if name := strings.TrimSpace(cells[1]); name != "" {
			d, err := ParseDirection(name)
			if err != nil {
				return err
			}
			direction = d
		}
		cells = cells[2:]
	}
	into := &c.left
	if phase == AsFound {
		into = &c.found
	}
	return c.reading(into, direction, cells[0], cells[1])
}

func (c *csvReadings) reading(into *[]Point, d Direction, set, delivered string) error {
	p := readingParser{unit: c.unit}
	left, err := p.value(set)
	if err != nil {
		return err
	}
	right, err := p.value(delivered)
	if err != nil {
		return err
	}
	at := find(*into, d, left)
	if at < 0 {
		*into = append(*into, Point{Direction: d, Set: left})
		at = len(*into) - 1
	}
	point := &(*into)[at]
	point.Readings = append(point.Readings, right)
	if err := tooMany(len(point.Readings), maxReadings, "readings of one point"); err != nil {
		return err
	}
	return tooMany(len(*into), maxPoints, "points")
}
