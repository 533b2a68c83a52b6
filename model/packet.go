package model

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"maps"
	"path/filepath"
	"slices"

	"pawl/labels"
	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/fault"
	"pawl/model/internal/store"
	"pawl/model/internal/views"
	"pawl/model/ledger"
	"pawl/model/packets"
	"pawl/model/people"
	"pawl/model/proofs"
)

// PacketView is a packet that was built. Left is known only to the act that built it, and
// Changed only where it was asked for.
type PacketView struct {
	claims.Packet
	Statement claims.Statement
	Left      []claims.LeftOut
	Changed   []string
	Police    *SheetSince // asked for with Changed; nil: no police sheet was handed over
	Key       string      // fingerprint of the key that signed its checkpoint
	Note      string      // the signed checkpoint
	Point     ledger.Checkpoint
}

// built is what the act of building a packet answers; the rest is read again.
type built struct {
	ID   string           `json:"id"`
	Left []claims.LeftOut `json:"left"`
}

// BuildPacket freezes what a packet says, under a checkpoint of the ledger as it stands,
// and records that it was built. What it holds is then written by WritePacket, as often as
// anybody asks.
func (s *Shop) BuildPacket(ctx context.Context, by By, in NewPacket) (v PacketView, err error) {
	if (in.Claim == "") == (in.Ownership == "") {
		return v, fault.New(fault.Malformed, "a packet is of one claim, or of one tool").WithHint("name one of the two")
	}
	done, kept, err := s.answered(ctx, by, in)
	if err == nil && !kept {
		done, err = s.buildPacket(ctx, by, in)
	}
	if err != nil {
		return v, err
	}
	v, err = s.Packet(ctx, by, done.ID, false)
	v.Left = done.Left
	return v, err
}

// answered gives what a packet was answered under the replay key before: it is not held
// against itself.
func (s *Shop) answered(ctx context.Context, by By, in NewPacket) (done built, kept bool, err error) {
	if by.Key == "" {
		return done, false, nil
	}
	fresh := fault.New(fault.NotFound, "no packet was built under this key")
	done, err = act(ctx, s, by, "packet", in, func(*store.Tx) (built, error) { return built{}, fresh })
	if errors.Is(err, fresh) {
		return done, false, nil
	}
	return done, err == nil, err
}

func (s *Shop) buildPacket(ctx context.Context, by By, in NewPacket) (done built, err error) {
	id, err := store.Write(ctx, s.db, store.Act{Verb: "packet", Actor: by.Recorded()}, func(tx *store.Tx) (string, error) { return tx.NewID('S') })
	if err != nil {
		return done, err
	}
	st, left, err := s.state(ctx, by, in, id)
	if err != nil {
		return done, err
	}
	raw, err := st.Bytes()
	if err != nil {
		return done, err
	}
	sum := sha256.Sum256(raw)
	row := claims.Packet{ID: id, Supplement: st.Supplement, Lines: st.Size, Statement: hex.EncodeToString(sum[:]), Added: claims.AdditionList(st.Added), Created: st.Created, Person: by.Person}
	if st.Claim != nil {
		row.Claim = st.Claim.ID
	} else {
		row.Tool = st.Lines[0].Tool
	}
	return s.freeze(ctx, by, in, row, raw, left)
}

// state builds the statement, and holds it against what was given out of the same loss.
// Its pictures are looked at outside of the transaction: views may have to be made.
func (s *Shop) state(ctx context.Context, by By, in NewPacket, id string) (st claims.Statement, left []claims.LeftOut, err error) {
	var facts claims.Facts
	if err := s.db.Read(ctx, func(rx *store.Rx) error {
		facts, err = s.gatherPacket(rx, by, in)
		return err
	}); err != nil {
		return st, nil, err
	}
	facts.Packet = id
	if st, left, err = claims.Build(facts); err != nil || len(facts.Papers) == 0 {
		return st, left, err
	}
	given, err := s.givenOut(facts.Papers)
	if err == nil && in.Reworded {
		st.MarkReworded(given)
	} else if err == nil {
		err = claims.SameWording(given, st)
	}
	return st, left, err
}

// papersOfLoss are the police sheets that were handed over and the packets of a loss, whoever
// claimed, oldest first.
func papersOfLoss(rx *store.Rx, loss string) ([]claims.Packet, error) {
	sheets, err := rx.SheetsOfLoss(loss)
	if err != nil {
		return nil, err
	}
	built, err := rx.PacketsOfLoss(loss)
	out := slices.Concat([]claims.Packet{}, sheets, built)
	slices.SortStableFunc(out, func(a, b claims.Packet) int { return cmp.Compare(a.Created, b.Created) })
	return out, err
}

// givenOut says what papers of a loss said last: each tool's line as in the newest that
// holds it.
func (s *Shop) givenOut(all []claims.Packet) (out claims.Statement, err error) {
	newest := map[string]claims.Line{}
	for _, p := range all {
		st, _, err := s.statement(p)
		if err != nil {
			return out, err
		}
		for _, l := range st.Lines {
			newest[l.Tool] = l
		}
	}
	for _, tool := range slices.Sorted(maps.Keys(newest)) {
		out.Lines = append(out.Lines, newest[tool])
	}
	return out, nil
}

// statement reads the statement of a packet as it was frozen.
func (s *Shop) statement(p claims.Packet) (st claims.Statement, raw []byte, err error) {
	f, size, err := s.originals.Open(p.Statement)
	if err != nil {
		return st, nil, fault.New(fault.Refused, "the statement of packet %s is not here any more", p.ID).WithHint("restore it from a backup").WithCause(err)
	}
	defer f.Close()
	raw = make([]byte, size)
	if _, err := io.ReadFull(f, raw); err != nil {
		return st, nil, err
	}
	if sum := sha256.Sum256(raw); hex.EncodeToString(sum[:]) != p.Statement {
		return st, nil, fault.New(fault.Refused, "the statement of packet %s was altered where it is kept", p.ID).WithHint("run pawl verify, then restore it from a backup")
	}
	st, err = packets.Parse(string(raw))
	return st, raw, err
}

// annex is the source of an annex but for the lines of its proofs.
func (s *Shop) annex(ctx context.Context, rx *store.Rx, st claims.Statement, raw []byte, note, key string) (src packets.Source, err error) {
	src = packets.Source{Statement: st, Raw: raw, Original: s.originalBytes, Thumb: s.photos(ctx, views.Small), Proofs: proofs.Source{Note: note, Key: key}}
	src.ReadMe, src.Certification, src.Own = annexPages(st, s.photos(ctx, views.Large))
	then := before(st)
	anchor, err := rx.CheckpointBy(then, st.Size-1)
	if err != nil {
		return src, err
	}
	if src.Proofs.Older, err = olderThan(rx, st.Size, st.Created, anchor); err != nil {
		return src, err
	}
	if src.Proofs.Anchor, err = anchorFor(rx, then, st.Size-1); err != nil { // its own checkpoint is no older one
		return src, err
	}
	rows, err := rollsFor(ctx, rx, toolsOf(st), then, st.Size)
	src.Proofs.Rolls = proofs.Rows(rows)
	return src, err
}

// annexPages draw the page that is read first, the blank page of certification, and whose
// a tool is, where nothing else goes along with it; nil is not in it.
func annexPages(st claims.Statement, photo labels.Photo) (readMe, certification, own func(io.Writer) error) {
	parts := labels.ReadMeParts{Proof: true, Thumb: st.ThumbPath}
	certification = func(w io.Writer) error { return labels.Certification(w, st.Paper) }
	if st.Kind == claims.Ownership && len(st.Lines) == 1 {
		parts.Documents = []labels.ReadMeLink{{Path: "own.pdf", Words: "Whose it is, on paper"}}
		own = func(w io.Writer) error { return labels.Ownership(w, st, photo) }
	}
	return func(w io.Writer) error { return labels.ReadMe(w, st, parts) }, certification, own
}

// before is the time up to which a checkpoint dates from before what a packet is about:
// when a loss was found out, or else when the packet was built.
func before(st claims.Statement) dates.Instant {
	if st.Loss != nil && st.Loss.Found != 0 {
		return st.Loss.Found
	}
	return st.Created
}

func toolsOf(st claims.Statement) (ids []string) {
	for _, l := range st.Lines {
		ids = append(ids, l.Tool)
	}
	return ids
}

// olderThan makes the proofs from the checkpoints that were given out before: the last
// maxOlder of them, and anchors, which may be older.
func olderThan(rx *store.Rx, size int64, created dates.Instant, anchors ...int64) ([]proofs.Older, error) {
	var sizes []int64
	for after := int64(0); ; {
		list, err := rx.Checkpoints(after, 500)
		if err != nil {
			return nil, err
		}
		for _, c := range list {
			if after = c.Size; c.Size < size && c.Made <= created {
				sizes = append(sizes, c.Size)
			}
		}
		if len(list) == 0 {
			break
		}
	}
	var out []proofs.Older
	newest := sizes[max(0, len(sizes)-maxOlder):]
	for _, at := range anchors {
		if at > 0 && at < size && !slices.Contains(newest, at) {
			newest = append(newest, at)
		}
	}
	slices.Sort(newest)
	for _, old := range newest {
		o, err := proofs.NewOlder(old, size, rx)
		if err != nil {
			return nil, err
		}
		out = append(out, o)
	}
	return out, nil
}

// entriesAt hands over lines with their proofs within one transaction.
func entriesAt(rx *store.Rx, places []place, size int64, keep func(proofs.Entry) error) error {
	for batch := range slices.Chunk(places, 200) {
		seqs := make([]int64, len(batch))
		for i, p := range batch {
			seqs[i] = p.seq
		}
		kept, err := rx.EntriesAt(seqs)
		if err != nil {
			return err
		}
		for i, e := range kept {
			if batch[i].withheld {
				e.Salt, e.After = nil, nil
			}
			row, err := proofs.NewEntry(e.Raw, e.Salt, e.After, size, rx)
			if err != nil {
				return err
			}
			if err := keep(row); err != nil {
				return err
			}
		}
	}
	return nil
}

// Packet gives a packet that was built. With changed it builds a fresh statement beside
// it and names what is on record otherwise by now.
func (s *Shop) Packet(ctx context.Context, by By, id string, changed bool) (v PacketView, err error) {
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		if v.Packet, err = d.packet(by, id); err != nil {
			return err
		}
		me, _, err := rx.Identity()
		if err != nil {
			return err
		}
		v.Key = ledger.Fingerprint(me.VKey)
		point, found, err := rx.CheckpointAt(v.Lines)
		if err != nil || !found {
			return orElse(err, fault.New(fault.Internal, "the checkpoint of packet %s is not there", id).WithHint("run pawl verify"))
		}
		v.Note = point.Note
		if v.Point, err = ledger.Open(v.Note, me.VKey); err != nil {
			return err
		}
		if v.Statement, _, err = s.statement(v.Packet); err != nil || !changed {
			return err
		}
		read := newGathered()
		if v.Changed, err = s.since(rx, by, v, read); err == nil && v.Statement.Loss != nil {
			v.Police, err = s.sinceSheet(rx, by, v.Statement.Loss.ID, read)
		}
		return err
	})
	return v, err
}

// Packets gives the packets of a claim, oldest first.
func (s *Shop) Packets(ctx context.Context, by By, claim string) (out []PacketView, err error) {
	var ids []string
	err = s.db.Read(ctx, func(rx *store.Rx) error {
		d, err := readNames(rx)
		if err != nil {
			return err
		}
		claim = typedID('C', claim)
		c, found, err := d.Claim(claim)
		shown := d.mayClaim(by, c) || by.Role == people.Viewer && claim == by.Claim && claim != ""
		if err != nil || !found || !shown {
			return orElse(err, fault.New(fault.NotFound, "there is no claim %s", fault.Clip(claim)))
		}
		rows, err := rx.PacketsOf(c.ID)
		for _, p := range rows {
			ids = append(ids, p.ID)
		}
		return err
	})
	for _, id := range ids {
		v, err := s.Packet(ctx, by, id, false)
		if err != nil {
			return nil, err
		}
		out = append(out, v)
	}
	return out, err
}

// packet finds a packet that somebody may see.
func (d *directory) packet(by By, id string) (p claims.Packet, err error) {
	p, found, err := d.Packet(typedID('S', id))
	if err != nil {
		return p, err
	}
	may := false
	switch {
	case !found:
	case by.Role == people.Viewer:
		may = p.Claim != "" && p.Claim == by.Claim
	case p.Claim != "":
		c, there, err := d.Claim(p.Claim)
		if err != nil {
			return p, err
		}
		may = there && d.mayClaim(by, c)
	case p.Tool != "":
		t, there, err := d.Tool(p.Tool)
		if err != nil {
			return p, err
		}
		may = there && people.May(by.Actor, people.SeeMoney, d.object(t))
	}
	if !may {
		return p, fault.New(fault.NotFound, "there is no packet %s", fault.Clip(id))
	}
	return p, nil
}

// since names what is on record otherwise than a packet says.
func (s *Shop) since(rx *store.Rx, by By, v PacketView, read *gathered) ([]string, error) {
	in := NewPacket{Claim: v.Claim, Ownership: v.Statement.Lines[0].Number}
	if v.Claim != "" {
		in.Ownership = ""
	}
	for _, a := range v.Statement.Added {
		in.Add = append(in.Add, string(a))
	}
	facts, err := s.gatherWith(rx, by, in, read)
	if err != nil {
		return nil, err
	}
	facts.WhyNot = nil // whether a picture can be drawn is no change
	now, _, err := claims.Build(facts)
	if fault.Is(err, fault.Refused) {
		return []string{"nothing of it may be handed over by now: " + fault.Of(err).Error()}, nil
	}
	if err != nil {
		return nil, err
	}
	return claims.Changed(v.Statement, now), nil
}

// photos give the views of photos of a size, until whoever asked for them went away: hundreds
// are drawn into a packet, and nobody waits for it any more.
func (s *Shop) photos(ctx context.Context, size views.Size) func(claims.File) ([]byte, error) {
	return func(f claims.File) ([]byte, error) {
		view, err := s.views.Open(ctx, f.SHA256, size)
		if gone := ctx.Err(); gone != nil { // and what was broken off is no photo that cannot be drawn
			return nil, fault.New(fault.Unavailable, "whoever asked for the packet went away").WithCause(gone)
		}
		return view, err
	}
}

// handing makes a packet ready to be written. Its bytes are the same whenever that is.
func (s *Shop) handing(ctx context.Context, v PacketView, maxPart int64) (h handing, err error) {
	h = handing{point: v.Point, fingerprint: v.Fingerprint, key: v.Key, maxPart: maxPart, photo: s.photos(ctx, views.Large),
		room: filepath.Join(s.dir, "views", "papers", fmt.Sprintf("%s-%d", v.Packet.Statement, maxPart))}
	if h.Statement, h.raw, err = s.statement(v.Packet); err != nil {
		return h, err
	}
	h.anchors = func(ctx context.Context) ([]string, error) { return s.anchors(ctx, h.Statement) }
	h.annex = func(ctx context.Context, w io.Writer) error { return s.writeAnnex(ctx, v, h, w) }
	return h, nil
}

func (s *Shop) writeAnnex(ctx context.Context, v PacketView, h handing, w io.Writer) error {
	var src packets.Source
	var places []place
	if err := s.db.Read(ctx, func(rx *store.Rx) error {
		me, _, err := rx.Identity()
		if err != nil {
			return err
		}
		if src, err = s.annex(ctx, rx, h.Statement, h.raw, v.Note, me.VKey); err != nil {
			return err
		}
		places, err = linesFor(rx, h.Statement)
		return err
	}); err != nil {
		return err
	}
	src.Proofs.Lines = func(keep func(proofs.Entry) error) error {
		return s.entries(ctx, gathering{size: v.Lines, places: places}, keep)
	}
	src.Date = s.dater(ctx, By{Actor: Actor{Via: people.ViaChores}})
	sum, err := packets.Write(w, src)
	if err == nil && sum != v.Fingerprint {
		err = fault.New(fault.Refused, "the annex of packet %s would not be as it was: its fingerprint is %.16s…, and %.16s… was recorded", v.ID, sum, v.Fingerprint).
			WithHint("an original was altered where it is kept, or another version of this program built it; run pawl verify")
	}
	return err
}

// PacketFiles lists the files of a packet in the order in which they are handed over.
// MaxPart splits the claim document, 0 leaves it whole.
func (s *Shop) PacketFiles(ctx context.Context, v PacketView, maxPart int64) ([]PacketFile, error) {
	h, err := s.handing(ctx, v, maxPart)
	if err != nil {
		return nil, err
	}
	return h.files()
}

// PacketFile finds one file of a packet by its name.
func (s *Shop) PacketFile(ctx context.Context, by By, id, name string, maxPart int64) (PacketFile, error) {
	v, err := s.Packet(ctx, by, id, false)
	if err != nil {
		return PacketFile{}, err
	}
	all, err := s.PacketFiles(ctx, v, maxPart)
	if err != nil {
		return PacketFile{}, err
	}
	for _, f := range all {
		if f.Name == name {
			return f, nil
		}
	}
	return PacketFile{}, fault.New(fault.NotFound, "packet %s has no file %s", id, fault.Clip(name)).WithHint("it lists its files")
}
