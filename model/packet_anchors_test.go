package model

import (
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// The hand-over sheet names the checkpoint from before the loss and who dated it, as the
// annex holds them; without any it says that there is none.
func TestTheHandOverSheetNamesItsAnchors(t *testing.T) {
	program, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("pdftotext is not installed")
	}
	onBoth(t, func(t *testing.T, g *garage) {
		said := func(v PacketView) string {
			sheet := filepath.Join(t.TempDir(), "sheet.pdf")
			write(t, sheet, g.whole(t, v)[handOverFile])
			text, err := exec.Command(program, "-raw", sheet, "-").Output()
			if err != nil {
				t.Fatal(err)
			}
			return strings.Join(strings.Fields(string(text)), " ")
		}
		s, _, _ := dated(t, g)
		point, err := s.DatedCheckpoint(ctx, g.boss)
		if err != nil || point.TimeStamp.Answer == nil {
			t.Fatalf("%+v %v", point, err)
		}
		text := said(g.packetOf(t, g.manager, NewPacket{Claim: rob(t, g, true).claim}))
		for _, want := range []string{"Outside anchors, to compare with:", "The checkpoint at", "proof/anchor.txt", "The time stamp on that checkpoint, of 2", "proof/anchor.tsr"} {
			if !strings.Contains(text, want) {
				t.Errorf("%q is not on it: %s", want, text)
			}
		}
		if strings.Contains(text, "No outside anchor is named") {
			t.Error(text)
		}
	})
	g := openGarage(t, "sqlite")
	if out, err := g.anchors(ctx, g.packetOf(t, g.manager, NewPacket{Claim: rob(t, g, true).claim}).Statement); err != nil || len(out) != 0 {
		t.Errorf("%q %v", out, err)
	}
}
