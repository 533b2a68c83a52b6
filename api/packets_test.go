package api

import (
	"bytes"
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"pawl/api/wire"
	"pawl/model"
	"pawl/model/bag"
	"pawl/model/claims"
	"pawl/model/packets"
	"pawl/model/people"
	"pawl/model/proofs"
)

// checkedAnnex gives the statement of an annex and its fingerprint, once it was looked
// through as somebody does who was handed it.
func checkedAnnex(t testing.TB, zipped []byte) (claims.Statement, string) {
	t.Helper()
	v, err := model.VerifyPacket(bytes.NewReader(zipped), int64(len(zipped)), model.PacketQuery{})
	if err != nil || len(v.Problems) > 0 {
		t.Fatal(err, v.Problems)
	}
	b, err := bag.Open(bytes.NewReader(zipped), int64(len(zipped)))
	if err != nil {
		t.Fatal(err)
	}
	text, err := b.Text("data/statement.json", 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	st, err := packets.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	r, err := b.Check()
	if err != nil {
		t.Fatal(err)
	}
	return st, r.Fingerprint
}

// TestPacketOfTool: whose a tool is goes to whoever its owner wants, the same each time.
func TestPacketOfTool(t *testing.T) {
	s := openShop(t)
	m, a, b := s.manager(), s.person("Tech A", people.Technician), s.person("Tech B", people.Technician)
	in := aTool("KD408B217")
	in.Owner, in.Price = given("Tech A"), given("289.00")
	number := a.registered(in).Number
	at := "/tools/" + number + "/packet"
	var v wire.Packet
	made := a.post(at, wire.NewPacket{Add: []string{"jobs"}}, `Idempotency-Key: "p-1"`).want(http.StatusCreated)
	made.into(&v)
	if v.Kind != "ownership" || *v.Number != number || v.Claim != nil || v.Tools != 1 || len(v.Added) != 1 || v.Changed != nil || made.header("Location") != Prefix+"/packets/"+v.ID {
		t.Errorf("%+v", v)
	}
	if again := a.post(at, wire.NewPacket{Add: []string{"jobs"}}, `Idempotency-Key: "p-1"`).want(http.StatusCreated); again.header("Idempotency-Replayed") != "true" || again.Body.String() != made.Body.String() {
		t.Errorf("a repeat is not replayed: %s", again.Body)
	}
	file := "/packets/" + v.ID + "/files/annex.zip"
	first := a.get(file).want(http.StatusOK).Body.Bytes()
	if st, fingerprint := checkedAnnex(t, first); fingerprint != v.Fingerprint || st.Lines[0].Number != number {
		t.Errorf("%s %+v", fingerprint, st)
	}
	if !bytes.Equal(a.get(file+"?max_part=1000000").want(http.StatusOK).Body.Bytes(), first) {
		t.Error("written again it is another")
	}
	a.get("/packets/" + v.ID + "?changed=true").want(http.StatusOK).into(&v)
	if v.Changed == nil || len(v.Changed) != 0 {
		t.Errorf("%q", v.Changed)
	}
	a.get("/packets/" + v.ID + "?max_part=x").refused(http.StatusUnprocessableEntity)
	a.get("/packets/" + v.ID + "?max_part=1073741824").want(http.StatusOK)
	a.get("/packets/" + v.ID + "?max_part=1073741825").refused(http.StatusUnprocessableEntity)
	a.get(file + "?max_part=-1").refused(http.StatusUnprocessableEntity)
	a.get("/packets/" + v.ID + "/files/other.zip").refused(http.StatusNotFound)
	for _, who := range []asker{b, s.person("Boss", people.Manager)} {
		who.get("/packets/" + v.ID).refused(http.StatusNotFound)
		who.get(file).refused(http.StatusNotFound)
		who.post(at, wire.NewPacket{}).refused(http.StatusForbidden)
	}
	m.post(at, wire.NewPacket{}).refused(http.StatusConflict) // it leaves the house: what Tech A does not share stays
	a.post(at, wire.NewPacket{Add: []string{"gaps"}}).refused(http.StatusUnprocessableEntity)
	a.post("/tools/00E-KM5/packet", wire.NewPacket{}).refused(http.StatusNotFound)
	m.get("/packets/S-00000000").refused(http.StatusNotFound)
	m.get("/packets/S-00000000/files/annex.zip").refused(http.StatusNotFound)
	m.get("/claims/C-00000000/packets").refused(http.StatusNotFound)
	m.post("/claims/C-00000000/packets", wire.NewPacket{}).refused(http.StatusNotFound)
}

// TestPacketOfClaim: what police and insurer read of one line is the same, or it is refused.
func TestPacketOfClaim(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	number := m.registered(aTool("KD408B217")).Number
	found := s.clock.tick().UTC().Format("2006-01-02T15:04:05Z07:00")
	opened := m.send(http.MethodPost, Prefix+"/losses", strings.NewReader(`{"kind":"theft","found":"`+found+`","where":"van","tools":["`+number+`"]}`), "Content-Type: "+jsonType)
	id := func(r reply) string {
		var v struct {
			ID string `json:"id"`
		}
		if err := json.Unmarshal(r.want(http.StatusCreated).Body.Bytes(), &v); err != nil {
			t.Fatal(err)
		}
		return v.ID
	}
	m.post("/policies", wire.NewPolicy{Name: "Shop contents", Limit: "18000", Deductible: "250", Basis: "rcv"}).want(http.StatusCreated)
	claim := id(m.send(http.MethodPost, Prefix+"/claims", strings.NewReader(`{"kind":"insurance","loss":"`+id(opened)+`","policy":"Shop contents"}`), "Content-Type: "+jsonType))
	var v wire.Packet
	m.post("/claims/"+claim+"/packets", wire.NewPacket{}).want(http.StatusCreated).into(&v)
	if v.Kind != "insurance" || *v.Claim != claim || v.Tools != 1 {
		t.Errorf("%+v", v)
	}
	st, _ := checkedAnnex(t, m.get("/packets/"+v.ID+"/files/annex.zip").want(http.StatusOK).Body.Bytes())
	if st.Lines[0].Line != 1 || st.Claim.ID != claim {
		t.Errorf("%+v", st)
	}
	var all wire.Packets
	m.get("/claims/" + claim + "/packets").want(http.StatusOK).into(&all)
	if len(all.Packets) != 1 || all.Packets[0].ID != v.ID || all.Packets[0].Fingerprint != v.Fingerprint {
		t.Errorf("%+v", all)
	}
	etag := m.get("/tools/" + number).want(http.StatusOK).header("ETag")
	m.patch("/tools/"+number, etag, map[string]string{"notes": "blue grip"}).want(http.StatusOK)
	m.post("/claims/"+claim+"/packets", wire.NewPacket{}).refused(http.StatusConflict)
	m.post("/claims/"+claim+"/packets", wire.NewPacket{Reworded: true}).want(http.StatusCreated)
	m.post("/claims/"+claim+"/packets", wire.NewPacket{Add: []string{"gaps"}}).refused(http.StatusUnprocessableEntity)
}

// TestElsewhere: a manager makes the copy, and is told how old the last one is.
func TestElsewhere(t *testing.T) {
	s := openShop(t)
	m := s.manager()
	m.registered(aTool("KD408B217"))
	var e wire.Elsewhere
	m.get("/elsewhere").want(http.StatusOK).into(&e)
	if e.ID != nil || e.Days != nil || !e.Old || e.Since == 0 {
		t.Errorf("%+v", e)
	}
	raw := m.post("/elsewhere", wire.Have{}).want(http.StatusOK).Body.Bytes()
	b, err := bag.Open(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		t.Fatal(err)
	}
	c, err := packets.CheckElsewhere(b, proofs.Outside{})
	if err != nil || len(c.Problems) > 0 {
		t.Fatal(err, c.Problems)
	}
	m.get("/elsewhere").want(http.StatusOK).into(&e)
	if e.ID == nil || *e.ID != c.ID || e.Old || *e.Days != 0 || e.Since != 1 {
		t.Errorf("%+v", e)
	}
	s.as(people.Technician).get("/elsewhere").refused(http.StatusForbidden)
	s.as(people.Technician).post("/elsewhere", wire.Have{}).refused(http.StatusForbidden)
}
