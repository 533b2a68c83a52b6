package model

import (
	"testing"

	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/markings"
	"pawl/model/register"
)

// A photo of a serial plate carries the grade of the last look that names it, and its day;
// a look that was withdrawn gives none, nor one at the owner's own number.
func TestPhotosOfPlatesAreGraded(t *testing.T) {
	onBoth(t, func(t *testing.T, g *garage) {
		number := g.tool(t, func(in *register.New) { in.Serial, in.SerialAgain = ptr("KD511C002"), "KD511C002" })
		var plates []register.Attach
		for i := range 4 {
			plates = append(plates, register.Attach{Kind: "plate", SHA256: g.upload(t, g.manager, picture(byte(40+i)))})
		}
		if _, err := g.Attach(ctx, g.manager, number, plates); err != nil {
			t.Fatal(err)
		}
		id, records := g.id(t, number), map[string]string{} // by SHA-256
		v, err := g.Tool(ctx, g.manager, number)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range v.Evidence {
			records[e.SHA256] = e.ID
		}
		now := dates.InstantOf(g.clock.Now())
		look := func(check string, plate int, on dates.Date, grade int64, marking string, withdrawn dates.Instant) *markings.Check {
			return &markings.Check{ID: check, Tool: id, Marking: marking, On: on, Grade: &grade, Evidence: records[plates[plate].SHA256], Entered: now, Withdrawn: withdrawn}
		}
		put(t, g, &markings.Marking{ID: "M-OWN", Tool: id, Shows: markings.OwnersNumber, Code: "OAN-7731", Since: now})
		put(t, g, look("U-1", 0, "2026-10-20", 3, "", 0), look("U-2", 0, "2026-10-25", 2, "", 0), look("U-3", 1, "2026-10-21", 4, "", 0),
			look("U-4", 2, "2026-10-22", 4, "", now), look("U-5", 3, "2026-10-22", 4, "M-OWN", 0))
		c, err := g.OpenClaim(ctx, g.manager, NewClaim{Kind: "warranty", Number: number, Fault: "anvil detent fails"})
		if err != nil {
			t.Fatal(err)
		}
		p := g.packetOf(t, g.manager, NewPacket{Claim: c.ID})
		said := map[string]string{}
		for _, f := range p.Statement.Lines[0].Files {
			if f.Kind == string(evidence.Plate) {
				said[f.SHA256] = f.GradeWords()
			}
		}
		for i, want := range []string{"grade 2 of 4, readable only with care: side light, magnifier, looked at on 2026-10-25", "grade 4 of 4, crisp, looked at on 2026-10-21", "", ""} {
			if got, there := said[plates[i].SHA256]; !there || got != want {
				t.Errorf("plate %d: %q, want %q", i, got, want)
			}
		}
		put(t, g, look("U-6", 1, "2026-10-26", 1, "", 0))
		again, err := g.Packet(ctx, g.manager, p.ID, true)
		if err != nil || len(again.Changed) != 1 {
			t.Errorf("%q, %v", again.Changed, err)
		}
		g.gradesFromACopy(t, number, plates)
	})
}

// gradesFromACopy: a packet that is built from the copy kept elsewhere grades alike.
func (g *garage) gradesFromACopy(t *testing.T, number string, plates []register.Attach) {
	t.Helper()
	out, err := PacketFromCopies(ctx, []CopyFile{fileOf(g.keptElsewhere(t, g.manager))}, FromCopy{Tools: []string{number}})
	if err != nil {
		t.Fatal(err)
	}
	defer out.Close()
	grades := map[string]claims.File{}
	for _, f := range out.Statement.Lines[0].Files {
		grades[f.SHA256] = f
	}
	if f := grades[plates[1].SHA256]; f.Grade == nil || *f.Grade != 1 || f.Graded != "2026-10-26" {
		t.Errorf("from a copy: %+v", f)
	}
}
