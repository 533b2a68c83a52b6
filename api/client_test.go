package api

import (
	"bytes"
	"context"
	"io"
	"net/url"
	"strings"
	"testing"

	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model/fault"
	"pawl/model/register"
)

// The typed client and the service mean the same: a day in the shop, asked over
// the in-process transport with every exchange held to the description.
func TestClientAndServiceAgree(t *testing.T) {
	s := openShop(t)
	ctx := context.Background()
	c := client.New("", client.InProcess{Handler: s.handler, Actor: atComputer}, "")
	must := func(what string, err error) {
		t.Helper()
		if err != nil {
			t.Fatalf("%s: %v", what, err)
		}
	}
	_, etag, err := c.Settings(ctx)
	must("settings", err)
	set, err := c.ChangeSettings(ctx, etag, map[string]any{"name": "Demo garage"})
	must("change settings", err)
	person, err := c.AddPerson(ctx, wire.NewPerson{Name: "Tech A", Role: "technician"})
	must("add person", err)
	_, err = c.AddPlace(ctx, wire.NewPlace{Path: "Bay 1"})
	must("add place", err)
	photo := aPhoto(t, 48, asPNG)
	_, err = c.Upload(ctx, shaOf(photo), "plate.png", "image/png", int64(len(photo)), func() (io.ReadCloser, error) {
		return io.NopCloser(bytes.NewReader(photo)), nil
	})
	must("upload", err)
	in := aTool("KD408B217")
	in.Place, in.Evidence = given("Bay 1"), []register.Attach{{Kind: "plate", SHA256: shaOf(photo)}}
	made, err := c.Register(ctx, in)
	must("register", err)
	_, err = c.Take(ctx, made.Number, wire.Take{To: "Tech A", Job: "10/42"})
	must("take", err)
	_, err = c.Take(ctx, made.Number, wire.Take{To: "Tech A"})
	if f := fault.Of(err); f == nil || f.Kind != fault.Conflict || f.Facts["holder"] != "Tech A" {
		t.Errorf("taken twice: %v", err)
	}
	job, err := c.Job(ctx, "10/42")
	must("job", err)
	tool, etag, err := c.Tool(ctx, made.Number)
	must("tool", err)
	if *tool.Custody.Person != person.Name || *tool.Custody.Job != job.Number || tool.Owner != set.Name || len(tool.Evidence) != 1 {
		t.Errorf("the tool is %+v", tool)
	}
	tool, err = c.ChangeTool(ctx, made.Number, etag, map[string]any{"notes": "engraved", "seller": nil})
	must("change tool", err)
	if tool.Notes != "engraved" || tool.Purchase.Seller != "" {
		t.Errorf("changed: %+v", tool)
	}
	_, err = c.ChangeTool(ctx, made.Number, etag, map[string]any{"notes": "x"})
	if !fault.Is(err, fault.Stale) {
		t.Errorf("changed twice on one reading: %v", err)
	}
}

// Bytes go through the client as they are, both ways.
func TestClientCarriesBytes(t *testing.T) {
	s := openShop(t)
	ctx := context.Background()
	c := client.New("", client.InProcess{Handler: s.handler, Actor: atComputer}, "")
	made := s.manager().registered(aTool("KD408B217"))
	photo := aPhoto(t, 48, asPNG)
	s.manager().upload(photo)
	var back, sheet bytes.Buffer
	if err := c.Original(ctx, shaOf(photo), &back); err != nil || !bytes.Equal(back.Bytes(), photo) {
		t.Errorf("%d bytes of a photo, %v", back.Len(), err)
	}
	if err := c.LabelSheet(ctx, []string{made.Number}, url.Values{"sheet": {"letter-3x10"}}, &sheet); err != nil || !strings.HasPrefix(sheet.String(), "%PDF-") {
		t.Errorf("%d bytes of a sheet, %v", sheet.Len(), err)
	}
	if v, err := c.Verify(ctx, wire.Verify{}); err != nil || !v.OK {
		t.Errorf("verified %+v, %v", v, err)
	}
	if err := c.Ready(ctx); err != nil {
		t.Error(err)
	}
}
