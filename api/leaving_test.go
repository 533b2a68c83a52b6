package api

import (
	"archive/zip"
	"bytes"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"pawl/api/wire"
	"pawl/model/bag"
	"pawl/model/needs"
	"pawl/model/people"
	"pawl/model/register"
)

func TestGone(t *testing.T) {
	s := openShop(t)
	m, a := s.manager(), s.person("Tech A", people.Technician)
	tool := m.registered(aTool("KD408B217"))
	at := "/tools/" + tool.Number
	a.post(at+"/take", "{}").want(http.StatusOK)
	a.post(at+"/gone", wire.Gone{Why: "sold"}).refused(http.StatusForbidden)
	for why, pointer := range map[string]string{"stolen": "#/why", "eaten": "#/why", "handed to its owner": "#/why"} {
		if p := m.post(at+"/gone", wire.Gone{Why: why}).refused(http.StatusUnprocessableEntity); p.Errors[0].Pointer != pointer {
			t.Errorf("%s: %+v", why, p)
		}
	}
	if p := m.post(at+"/gone", wire.Gone{Why: "sold", On: "2026-11-26"}).refused(http.StatusUnprocessableEntity); p.Errors[0].Pointer != "#/on" {
		t.Errorf("sold tomorrow: %+v", p)
	}
	var done wire.Done
	m.post(at+"/gone", wire.Gone{Why: "Sold", On: "2026-11-20"}).want(http.StatusOK).into(&done)
	if done.GoneWhy != "sold" || done.Custody.Person != nil {
		t.Errorf("gone: %+v", done)
	}
	if p := m.post(at+"/gone", wire.Gone{Why: "lost"}).refused(http.StatusConflict); p.Facts["since"] == "" {
		t.Errorf("gone twice: %+v", p)
	}
	m.get(at).want(http.StatusOK).into(&tool)
	if tool.GoneWhy != "sold" || tool.GoneOn != "2026-11-20" || tool.Gone == 0 {
		t.Errorf("the tool: %+v", tool)
	}
	m.post("/tools/00E-KM5/gone", wire.Gone{Why: "sold"}).refused(http.StatusNotFound)
	m.post("/tools", aTool("KD408B217")).refused(http.StatusConflict)
}

func TestSwap(t *testing.T) {
	s := openShop(t)
	m, a := s.manager(), s.person("Tech A", people.Technician)
	warranted, months := aTool("KD408B217"), int64(24)
	warranted.WarrantyMonths = &months
	old := m.registered(warranted)
	at := "/tools/" + old.Number
	a.post(at+"/swap", wire.Swap{Serial: "KD511A090", SerialAgain: "KD511A090"}).refused(http.StatusForbidden)
	m.post(at+"/swap", wire.Swap{Serial: "KD511A090", SerialAgain: "KD511A09O"}).refused(http.StatusUnprocessableEntity)
	m.post(at+"/swap", wire.Swap{Serial: "KD408B217", SerialAgain: "KD408B217"}).refused(http.StatusConflict)
	m.post("/tools/00E-KM5/swap", wire.Swap{Serial: "X1", SerialAgain: "X1"}).refused(http.StatusNotFound)
	const key = "Idempotency-Key: swap-1"
	in := wire.Swap{Serial: "KD511A090", SerialAgain: "KD511A090", Model: "IW-451"}
	var out, again wire.Swapped
	r := m.post(at+"/swap", in, key).want(http.StatusCreated)
	r.into(&out)
	m.post(at+"/swap", in, key).want(http.StatusCreated).into(&again)
	if out.Number != again.Number || r.header("Location") != "/api/v1/tools/"+strings.ReplaceAll(out.Number, "-", "") {
		t.Errorf("swapped to %s and %s, at %s", out.Number, again.Number, r.header("Location"))
	}
	if out.Old.Number != old.Number || *out.Tool.Exchanged.From != old.Number || out.Tool.Model != "IW-451" || len(out.Tool.Markings) != 0 ||
		out.Tool.Warranty.From != old.Warranty.From || *out.Tool.Purchase.Price != *old.Purchase.Price {
		t.Errorf("the new tool: %+v", out.Tool)
	}
}

// What the shop paid as deposit is hidden from those who may not see prices.
func TestOutsidersTool(t *testing.T) {
	s := openShop(t)
	tool := s.manager().registered(register.New{Change: register.Change{
		Kind: given("ball joint press"), OwnerOutside: given("Neighbor Bay"), Deposit: given("50.00"), DueBack: given("2026-12-01")}})
	if tool.Owner != "Neighbor Bay" || tool.Outside.Deposit.Minor != 5000 {
		t.Errorf("the tool: %+v", tool)
	}
	a := s.person("Tech A", people.Technician)
	body := a.get("/tools/" + tool.Number).want(http.StatusOK).Body.String()
	body += a.get("/tools/" + tool.Number + "/history").want(http.StatusOK).Body.String()
	if strings.Contains(body, "5000") || !strings.Contains(body, "2026-12-01") {
		t.Errorf("a technician sees %s", body)
	}
}

// sendZIP sends a copy.
func (a asker) sendZIP(query string, raw []byte) reply {
	a.Helper()
	return a.send(http.MethodPost, Prefix+"/imports/copy"+query, bytes.NewReader(raw), "Content-Type: application/zip")
}

// zipTexts gives all the text of a ZIP.
func zipTexts(t testing.TB, raw []byte) string {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		t.Fatal(err)
	}
	var all strings.Builder
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.Copy(&all, r); err != nil {
			t.Fatal(err)
		}
	}
	return all.String()
}

func TestLeaveWithCopy(t *testing.T) {
	s := openShop(t)
	m, a, b := s.manager(), s.person("Tech A", people.Technician), s.person("Tech B", people.Technician)
	in := aTool("KD408B217")
	in.Owner = given("Tech A")
	own := m.registered(in)
	shops := aTool("SHOP1")
	shops.Price = given("777.77")
	held := m.registered(shops)
	once := aTool("SHOP2")
	once.Price = given("555.55")
	was := m.registered(once)
	etag := m.get("/tools/" + was.Number).header("ETag")
	m.patch("/tools/"+was.Number, etag, `{"owner":"Tech A","price":"20.00"}`).want(http.StatusOK)
	a.post("/tools/"+held.Number+"/take", "{}").want(http.StatusOK)

	leave, copied := "/people/"+a.actor.Person+"/leave", "/people/"+a.actor.Person+"/copy"
	b.post(copied, "{}").refused(http.StatusForbidden)
	s.as(people.Manager).post(copied, "{}").refused(http.StatusForbidden)
	m.post("/people/H-00000000/copy", "{}").refused(http.StatusNotFound)
	zipped := a.post(copied, "{}").want(http.StatusOK).Body.Bytes()
	text := zipTexts(t, zipped)
	if strings.Contains(text, "77777") || strings.Contains(text, "55555") || !strings.Contains(text, "28900") {
		t.Error("the copy tells a price that is not theirs, or not their own")
	}
	a.post(leave, "{}").refused(http.StatusForbidden)
	m.post("/people/H-00000000/leave", "{}").refused(http.StatusNotFound)
	if p := m.post(leave, "{}").refused(http.StatusConflict); p.Facts["tools"] != held.Number {
		t.Errorf("to settle: %+v", p)
	}
	var left wire.Left
	m.post(leave, wire.Leave{Settled: true}).want(http.StatusOK).into(&left)
	if len(left.Open) != 1 || len(left.Takes) != 2 || left.Takes[0].Number != own.Number || left.Person.Left == 0 {
		t.Errorf("left: %+v", left)
	}
	m.post(leave, "{}").refused(http.StatusConflict)

	other := openShopFrom(t, 9)
	m2 := other.manager()
	s.person("Tech C", people.Technician).sendZIP("", zipped).refused(http.StatusForbidden)
	m.sendZIP("", zipped).refused(http.StatusConflict)
	m2.sendZIP("?owner=Nobody", zipped).refused(http.StatusUnprocessableEntity)
	m2.sendZIP("", zipped[:100]).refused(http.StatusBadRequest)
	var got wire.ImportedCopy
	m2.sendZIP("", zipped).want(http.StatusCreated).into(&got)
	if got.Owner != "Our shop" || len(got.Tools) != 2 || got.Tools[0].Was != own.Number {
		t.Errorf("imported: %+v", got)
	}
	var tool wire.Tool
	m2.get("/tools/" + got.Tools[0].Number).want(http.StatusOK).into(&tool)
	proof := tool.Evidence[len(tool.Evidence)-1]
	raw := m2.get("/evidence/" + proof.SHA256).want(http.StatusOK)
	if raw.header("Content-Type") != "application/zip" || strings.Contains(zipTexts(t, raw.Body.Bytes()), was.ID) {
		t.Errorf("the proof is a %s, or speaks of another tool", raw.header("Content-Type"))
	}
	m2.sendZIP("", zipped).refused(http.StatusConflict)
}

// The copy is a bag that coreutils check too, and the same each time but for the
// time of it.
func TestCopyByCoreutils(t *testing.T) {
	program := needs.Program(t, "sha256sum")
	s := openShop(t)
	a := s.person("Tech A", people.Technician)
	in := aTool("KD408B217")
	in.Owner = given("Tech A")
	s.manager().registered(in)
	zipped := a.post("/people/"+a.actor.Person+"/copy", "{}").want(http.StatusOK).Body.Bytes()
	z, err := zip.NewReader(bytes.NewReader(zipped), int64(len(zipped)))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := os.CopyFS(dir, z); err != nil {
		t.Fatal(err)
	}
	for _, manifest := range []string{"manifest-sha256.txt", "tagmanifest-sha256.txt"} {
		check := exec.Command(program, "--strict", "-c", manifest)
		check.Dir = filepath.Join(dir, "tools-copy-2026-11-25")
		if said, err := check.CombinedOutput(); err != nil {
			t.Errorf("sha256sum -c %s: %v\n%s", manifest, err, said)
		}
	}
}

// A copy that somebody touched is not taken, and one without end is not read.
func TestTouchedCopy(t *testing.T) {
	s := openShop(t)
	a := s.person("Tech A", people.Technician)
	in := aTool("KD408B217")
	in.Owner = given("Tech A")
	s.manager().registered(in)
	zipped := a.post("/people/"+a.actor.Person+"/copy", "{}").want(http.StatusOK).Body.Bytes()
	other := openShopFrom(t, 9).manager()
	for _, change := range [][2]string{{"KD408B217", "KD408B218"}, {`"price":28900`, `"price":98900`}, {`"line":"{\"act`, `"line":"{\"atc`}} {
		touched := rebagged(t, zipped, change[0], change[1])
		r := other.sendZIP("", touched)
		if r.Code != http.StatusUnprocessableEntity && r.Code != http.StatusBadRequest {
			t.Errorf("with %s it is taken: %d %s", change[1], r.Code, r.Body)
		}
	}
	r := httptest.NewRequest(http.MethodPost, Prefix+"/imports/copy", strings.NewReader("PK"))
	r.Header.Set("Content-Type", "application/zip")
	r.ContentLength = bag.MaxBytes + 1
	other.sent(r).refused(http.StatusRequestEntityTooLarge)
}

// rebagged makes the bag anew with a text changed wherever it stands, so that
// its own hashes are right: only the proofs can tell.
func rebagged(t testing.TB, zipped []byte, old, now string) []byte {
	t.Helper()
	b, err := bag.Open(bytes.NewReader(zipped), int64(len(zipped)))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	w, err := bag.NewWriter(&out, bag.Info{Name: b.Name, Date: "2026-11-25"})
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range append(b.Files("data/"), b.Files("proof/")...) {
		text, err := b.Text(path, 1<<20)
		if err == nil {
			text = strings.ReplaceAll(text, old, now)
			err = w.Add(path, false, strings.NewReader(strings.ReplaceAll(text, strings.ReplaceAll(old, `"`, `\"`), strings.ReplaceAll(now, `"`, `\"`))))
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if _, err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}
