package labels

// Sticker says on a tool that measures how long its calibration holds, and over
// what. It is drawn for a calibration that passed.
type Sticker struct {
	Symbol     string // T/NUMBER, or the link
	Number     string
	Calibrated string   // the day, as people write it
	Due        string   // the last day in date; empty: no interval is stated
	Limited    bool     // less than the whole scale, both ways
	Spans      []string // what was covered: "40 to 200 N·m clockwise"
}

// Sizes of a calibration sticker in mm: a roll label of 2 x 1 inches.
const (
	stickerW, stickerH = 50.8, 25.4
)

// NotAfterDrop ends every calibration sticker: what is printed on it cannot know
// what happened since. The cautions about torque are behind the scan: a line of them
// in letters that can be read takes the room of a strong symbol or of the range.
const NotAfterDrop = "NOT VALID AFTER A DROP: scan."

// Card lays a sticker out. Dates and what they hold for are never cut.
func (s Sticker) Card() Card {
	c := Card{W: stickerW, H: stickerH, Symbol: s.Symbol, Number: s.Number, Heading: "CALIBRATED", Lead: "Due " + s.Due,
		Foot: []string{NotAfterDrop}, Whole: true}
	if s.Due == "" {
		c.Lead = "Due: not stated"
	}
	c.Lines = append(c.Lines, "Calibrated "+s.Calibrated)
	only := ""
	if s.Limited {
		c.Heading, only = "LIMITED", "only "
	}
	for _, span := range s.Spans {
		c.Lines = append(c.Lines, only+span)
	}
	return c
}
