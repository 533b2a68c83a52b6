package page

import (
	"slices"
	"strings"

	"pawl/model"
	"pawl/model/claims"
	"pawl/model/people"
)

func (p *Pages) packetRoutes() []Route {
	return []Route{
		get("/packets/:id", p.packetPage), get("/claims/:id/packet", p.packetsPage), post("/claims/:id/packet", p.buildPacket),
		get("/t/:number/packet", p.ownershipPage), post("/t/:number/packet", p.buildOwnership),
		get("/elsewhere", p.elsewherePage),
	}
}

// packetData is what the page of a packet shows.
type packetData struct {
	model.PacketView
	Files   []packetLink
	Left    []claims.LeftOut
	Grouped string // the fingerprint, to be read out
	Asked   bool   // whether what changed since was looked for
}

// packetLink is a file of a packet with where it is had.
type packetLink struct{ Name, To string }

// packetPage shows a packet with its files. A viewer is not told what changed since: they
// were handed what was frozen.
func (p *Pages) packetPage(a *Ask) (Reply, error) {
	viewer := a.Me().Role == people.Viewer
	v, err := p.shop.Packet(a.R.Context(), a.By, a.Param("id"), !viewer)
	if err != nil {
		return Reply{}, err
	}
	d := packetData{PacketView: v, Grouped: grouped(v.Fingerprint), Asked: !viewer}
	a.sayAll(d.Changed)
	if d.Police != nil {
		a.sayAll(d.Police.Changed)
	}
	files, err := p.shop.PacketFiles(a.R.Context(), v, 0)
	for _, f := range files {
		d.Files = append(d.Files, packetLink{f.Name, "/api/v1/packets/" + v.ID + "/files/" + f.Name})
	}
	return Show("packet", d), err
}

// sayAll says what the rules say in the asker's language.
func (a *Ask) sayAll(lines []string) {
	for i, line := range lines {
		lines[i] = faultWords(a.language(), line)
	}
}

// grouped writes a hash in groups of four, so that two people can read it to each other.
func grouped(hash string) string {
	var out strings.Builder
	for i, r := range hash {
		if i > 0 && i%4 == 0 {
			out.WriteByte(' ')
		}
		out.WriteRune(r)
	}
	return out.String()
}

// packetsData is what the page shows on which a packet is built.
type packetsData struct {
	Claim     string
	Additions []Option
	Packets   []model.PacketView
}

func (p *Pages) packets(a *Ask) (packetsData, error) {
	d := packetsData{Claim: a.Param("id"), Additions: p.additions(a)}
	var err error
	d.Packets, err = p.shop.Packets(a.R.Context(), a.By, d.Claim)
	return d, err
}

// additions are what may be put in on purpose, as it was chosen.
func (p *Pages) additions(a *Ask) []Option {
	all := make([]string, len(claims.Additions))
	for i, add := range claims.Additions {
		all[i] = string(add)
	}
	out := p.Options(a.language(), "packets.add.", all...)
	for i := range out {
		out[i].Chosen = slices.Contains(a.form["add"], out[i].Value)
	}
	return out
}

func (p *Pages) packetsPage(a *Ask) (Reply, error) {
	d, err := p.packets(a)
	return Show("packets", d), err
}

// buildPacket freezes what is on record and leads to its files.
func (p *Pages) buildPacket(a *Ask) (Reply, error) {
	v, err := p.shop.BuildPacket(a.R.Context(), a.By, model.NewPacket{Claim: a.Param("id"), Add: a.form["add"], Reworded: a.Value("reworded") == "yes"})
	if err != nil {
		d, failed := p.packets(a)
		if failed != nil {
			return Reply{}, failed
		}
		return a.Again("packets", d, err), nil
	}
	return Go("/packets/"+v.ID, p.builtWords(a, v)...), nil
}

// builtWords say what was built, and what of it was left out.
func (p *Pages) builtWords(a *Ask, v model.PacketView) []string {
	said := []string{p.say(a, "packets.built", len(v.Statement.Lines))}
	for _, l := range v.Left {
		said = append(said, p.say(a, "packets.left", l.Number, l.What, l.Why))
	}
	const most = 6
	if len(said) > most {
		said = append(said[:most], p.say(a, "packets.left-more", len(said)-most))
	}
	return said
}

// elsewhereOld is how the copy kept elsewhere stands, for whoever may make it and where it
// is to be made anew; nil else.
func (p *Pages) elsewhereOld(a *Ask) (*model.ElsewhereState, error) {
	if !people.May(a.Me(), people.ShopActs, people.Object{}) {
		return nil, nil
	}
	e, err := p.shop.Elsewhere(a.R.Context(), a.By)
	if err != nil || !e.Old() {
		return nil, err
	}
	return &e, nil
}

func (p *Pages) elsewherePage(a *Ask) (Reply, error) {
	e, err := p.shop.Elsewhere(a.R.Context(), a.By)
	return Show("elsewhere", e), err
}
