package model

import (
	"bytes"
	"image/jpeg"
	"io"
	"slices"
	"strings"
	"testing"

	"pawl/model/register"
)

// The page that is read first shows small views that lie in the annex: of photos that can be
// shown and are handed over, and the same when it is built again.
func TestSmallViewsAreInTheAnnex(t *testing.T) {
	g := openGarage(t, "sqlite")
	r := rob(t, g, true)
	if _, err := g.Attach(ctx, g.manager, r.shops, []register.Attach{{Kind: "whole", SHA256: g.upload(t, g.manager, picture(21))}}); err != nil {
		t.Fatal(err)
	}
	v := g.packetOf(t, g.manager, NewPacket{Claim: r.claim})
	zipped := g.annexOf(t, v)
	if !bytes.Equal(zipped, g.annexOf(t, v)) {
		t.Error("the annex is another one when it is built again")
	}
	b := bagOf(t, zipped)
	page, err := b.Text("data/00-READ-ME-FIRST.html", 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	var want []string
	for _, l := range v.Statement.Lines {
		for _, f := range l.Files { // of a receipt too: it is a picture here
			want = append(want, "data/thumbs/"+f.Ref+".jpg")
		}
	}
	slices.Sort(want)
	if got := b.Files("data/thumbs/"); len(want) < 3 || !slices.Equal(got, want) {
		t.Fatalf("%q, want %q", got, want)
	}
	for _, path := range want {
		f, err := b.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		raw, err := io.ReadAll(f)
		if err != nil {
			t.Fatal(err)
		}
		small, err := jpeg.DecodeConfig(bytes.NewReader(raw))
		if err != nil || small.Width > 320 || small.Height > 320 || bytes.Contains(raw, []byte("Exif")) {
			t.Errorf("%s: %dx%d, %v", path, small.Width, small.Height, err)
		}
		if !strings.Contains(page, `<img src="./`+strings.TrimPrefix(path, "data/")+`"`) {
			t.Errorf("the page does not show %s", path)
		}
	}
}
