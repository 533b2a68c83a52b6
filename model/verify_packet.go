package model

import (
	"crypto/sha256"
	"crypto/x509"
	"encoding/hex"
	"fmt"
	"io"
	"slices"
	"strconv"
	"time"

	"pawl/model/bag"
	"pawl/model/claims"
	"pawl/model/copies"
	"pawl/model/fault"
	"pawl/model/packets"
	"pawl/model/proofs"
	"pawl/model/stamp"
)

// PacketQuery is what to hold a packet against: a verifying key and signed
// checkpoints that were kept outside, and certificates, in PEM, to which that of
// the time-stamp authority must lead.
type PacketQuery struct {
	Key     string
	Against []string
	Roots   string
}

// VerifyPacket checks a packet in a file of size bytes: any bag with proofs in
// it, be it the copy of somebody who left, the proofs that were kept of one, or
// what was handed over about a loss. It needs no shop. What it cannot read within
// the bag is a problem of the bag; its error means that there is none.
func VerifyPacket(r io.ReaderAt, size int64, q PacketQuery) (Verified, error) {
	var roots *x509.CertPool
	if q.Roots != "" {
		var err error
		if roots, err = stamp.ParseRoots(q.Roots); err != nil {
			return Verified{}, err
		}
	}
	b, err := bag.Open(r, size)
	if err != nil {
		return Verified{}, err
	}
	p := packetCheck{bag: b, roots: roots}
	if p.report, err = b.Check(); err != nil {
		p.problem(err)
	}
	p.Problems = append(p.Problems, p.report.Problems...)
	p.Originals = p.report.Files
	p.proofs(proofs.Outside{Key: q.Key, Checkpoints: q.Against})
	p.stamp()
	p.anchorStamp()
	if n := len(p.Problems); n > 0 {
		p.Said = []string{fmt.Sprintf("Does NOT hold: %d. What is in this packet is not shown to be what was recorded.", n)}
	}
	return p.Verified, nil
}

// packetCheck is a packet that is being looked at.
type packetCheck struct {
	Verified
	bag    *bag.Bag
	report bag.Report
	anchor *proofs.Anchor
	roots  *x509.CertPool
}

func (p *packetCheck) problem(err error) {
	said := err.Error()
	if f := fault.Of(err); f != nil {
		said = f.Message
	}
	p.Problems = append(p.Problems, said)
}

func (p *packetCheck) say(format string, args ...any) {
	p.Said = append(p.Said, fmt.Sprintf(format, args...))
}

// proofs holds what is in the packet to the lines that it shows.
func (p *packetCheck) proofs(o proofs.Outside) {
	if !proofs.In(p.bag) {
		if copies.In(p.bag) || packets.Is(p.bag) || packets.IsElsewhere(p.bag) { // which are never made without
			p.problem(fault.New(fault.Invalid, "its proofs are gone: nothing in proof/ shows that what is in it was recorded"))
		}
		p.say("It holds no proofs: every file was held to the lists in it, and to nothing else.")
		if o.Key != "" || len(o.Checkpoints) > 0 {
			p.problem(fault.New(fault.Invalid, "there are no proofs in it to compare with what was given"))
		}
		return
	}
	o.Partly = packets.IsElsewhere(p.bag)
	proven, err := proofs.Check(p.bag, o)
	if err != nil {
		p.problem(err)
		return
	}
	p.Lines, p.Checkpoints, p.Withheld, p.Rolls = proven.Lines, proven.Compared, proven.Withheld, int64(len(proven.Rolls))
	p.Size, p.Root = proven.Size, proven.Root.String()
	p.Problems = append(p.Problems, proven.Problems...)
	p.anchor = proven.Anchor
	if a := proven.Anchor; a != nil {
		p.say("An older checkpoint is in it, of %d lines: compare it with the one that was given out then.", proven.AnchorSize)
	}
	if err := p.records(proven); err != nil {
		p.problem(err)
	}
	// Only now is it known which checkpoints are in it.
	p.Said = slices.Concat(proven.Said(len(o.Checkpoints)), proven.Complete(), p.Said)
}

// records holds what is told beside the lines to them.
func (p *packetCheck) records(proven proofs.Proven) error {
	switch {
	case copies.In(p.bag):
		return p.ownCopy(proven)
	case packets.Is(p.bag):
		return p.annex(proven)
	case packets.IsElsewhere(p.bag):
		return p.elsewhere(proven)
	}
	return nil
}

// annex holds the statement of a packet to the lines.
func (p *packetCheck) annex(proven proofs.Proven) error {
	c, err := packets.CheckRecords(p.bag, p.report, proven)
	p.Records, p.Originals = c.Records, c.Files
	p.Problems = append(p.Problems, c.Problems...)
	p.Said = append(p.Said, c.Unshown...)
	p.page(c.Statement)
	p.say("Fingerprint %s: compare it with the hand-over sheet.", p.report.Fingerprint)
	return err
}

// page holds the page that people read to the statement that it is drawn of. One that differs
// is no problem of the packet, since another version may draw otherwise: it is told.
func (p *packetCheck) page(st claims.Statement) {
	readMe, _, _ := annexPages(st, nil)
	drawn := sha256.New()
	if err := readMe(drawn); err != nil || hex.EncodeToString(drawn.Sum(nil)) != p.report.Hashes[packets.ReadMeFile] {
		p.say("NOT SHOWN: %s is not the page that this program draws of the statement. It was changed, or another version drew it; go by data/statement.json, not by the page.", packets.ReadMeFile)
	}
}

// elsewhere holds a copy that was kept elsewhere to the lines.
func (p *packetCheck) elsewhere(proven proofs.Proven) error {
	c, err := packets.CheckElsewhereRecords(p.bag, p.report, proven)
	p.Records, p.Originals = int64(len(proven.Records)), c.Here
	p.Problems = append(p.Problems, c.Problems...)
	p.Problems = append(p.Problems, badStamps(c.Points)...)
	if c.Follows > 0 {
		p.say("Photos and papers that an earlier copy has and this one leaves out: %d. Keep that one too.", c.Follows)
	}
	return err
}

// ownCopy holds the records of a copy of somebody's own tools to the lines.
func (p *packetCheck) ownCopy(proven proofs.Proven) error {
	c, err := copies.CheckRecords(p.bag, p.report, proven)
	p.Records, p.Originals = c.Records, c.Files
	p.Problems = append(p.Problems, c.Problems...)
	if c.Absent > 0 {
		p.say("Photos and papers that are named and not in this file: %s.", strconv.FormatInt(c.Absent, 10))
	}
	return err
}

// stamp checks the time stamp over the tag manifest, where there is one.
func (p *packetCheck) stamp() {
	if p.bag.Size(bag.StampFile) < 0 {
		p.say("No time stamp is in here: there is no %s.", bag.StampFile)
		return
	}
	answer, err := p.bag.Text(bag.StampFile, stamp.MaxAnswer)
	digest, bad := hex.DecodeString(p.report.Fingerprint)
	if err == nil && (bad != nil || len(digest) != sha256.Size) {
		err = fault.New(fault.Invalid, "there is no tag manifest for it to be of")
	}
	if err != nil {
		p.problem(fault.New(fault.Invalid, "%s: %s", bag.StampFile, fault.Of(err).Message))
		return
	}
	p.dated(bag.StampFile, []byte(answer), [sha256.Size]byte(digest), "Time stamp")
}

// anchorStamp checks the time stamp on the older checkpoint, where there is one.
func (p *packetCheck) anchorStamp() {
	switch a := p.anchor; {
	case a == nil:
	case len(a.Answer) == 0:
		p.say("No time stamp on the older checkpoint is in here: there is no %s. Where the hand-over sheet names one, it was taken out.", bag.AnchorStampFile)
	default:
		p.dated(bag.AnchorStampFile, a.Answer, sha256.Sum256([]byte(a.Note)), "Time stamp on the older checkpoint")
	}
}

// dated checks one time stamp and says what it says.
func (p *packetCheck) dated(file string, answer []byte, digest [sha256.Size]byte, what string) {
	s, err := stamp.Check(answer, digest, p.roots, time.Time{})
	if err != nil {
		p.problem(fault.New(fault.Invalid, "%s: %s", file, fault.Of(err).Message))
		return
	}
	chain := "chain not checked: give --authority-roots FILE"
	if p.roots != nil {
		chain = "its chain checked as of then"
	}
	p.say("%s by %s: %s; %s.", what, s.Authority, s.At.Format(time.RFC3339), chain)
}
