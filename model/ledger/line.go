// Package ledger holds the form of Pawl's record of changes and the pure parts
// of checking it. It keeps nothing itself: the store hands in bytes and hashes.
//
// Words. A line is the record that one thing changed once: who, what, when, and
// a salted digest of the state after it. An act is what one person or program
// did at one moment; its lines stand together, and each carries the seq of the
// first. An image is that state after the change, column by column. The lines
// are the leaves of a Merkle tree; its root covers every byte of every line. A
// checkpoint is a signed statement of the size and the root. An inclusion proof
// shows that a line is under a root, a consistency proof that an older tree is
// the beginning of a newer one. Stored hashes are the nodes of complete
// subtrees, kept in the order in which lines complete them.
package ledger

import (
	"bytes"
	"slices"

	"pawl/model/fault"
)

// Version is the form of the lines that this program writes and reads.
const Version = 1

// Line is one line of the ledger. It holds no free text: that lives in the
// image that Digest covers.
type Line struct {
	V      int      // form of the line: Version
	Seq    int64    // place in the ledger, from 0 without gaps; the only order there is
	Act    int64    // Seq of the first line of the same act
	At     int64    // when it was entered: microseconds since 1970-01-01T00:00:00Z, UTC
	Actor  string   // who did it
	Verb   string   // what was done
	Noun   string   // sort of the record that changed
	ID     string   // the record that changed
	Rev    int64    // revision of that record after the change
	Tools  []string // ids of the tools whose history this belongs to; order and repeats do not count
	Digest string   // Digest(salt, after): 64 lower-case hexadecimal digits
}

// Canonical returns the bytes that are hashed and kept: one JSON object with
// the keys in bytewise order, no spaces, UTF-8, and no escape that JSON does
// not demand (the strings of RFC 8785 section 3.2.2.2). Tools are sorted and
// unique. A line that Check accepts is read back by ParseLine unchanged but for
// the order of Tools.
func (l Line) Canonical() []byte {
	w := make(encoder, 0, 320)
	w.open('{')
	w.integer("act", l.Act)
	w.text("actor", l.Actor)
	w.integer("at", l.At)
	w.text("digest", l.Digest)
	w.text("id", l.ID)
	w.text("noun", l.Noun)
	w.integer("rev", l.Rev)
	w.integer("seq", l.Seq)
	w.texts("tools", sortedUnique(l.Tools))
	w.integer("v", int64(l.V))
	w.text("verb", l.Verb)
	w.shut('}')
	return w
}

// ParseLine reads a line from its canonical bytes and from no others: a member
// that is unknown, missing, repeated or elsewhere, a space, an escape without
// need or an unsorted tool is Malformed, and so is a line that Check refuses.
// Tools is nil when the line names none.
func ParseLine(raw []byte) (Line, error) {
	var l Line
	r := decoder{raw: raw}
	r.want(`{"act":`)
	l.Act = r.integer()
	r.want(`,"actor":`)
	l.Actor = r.text()
	r.want(`,"at":`)
	l.At = r.integer()
	r.want(`,"digest":`)
	l.Digest = r.text()
	r.want(`,"id":`)
	l.ID = r.text()
	r.want(`,"noun":`)
	l.Noun = r.text()
	r.want(`,"rev":`)
	l.Rev = r.integer()
	r.want(`,"seq":`)
	l.Seq = r.integer()
	r.want(`,"tools":`)
	l.Tools = r.texts()
	r.want(`,"v":`)
	version := r.integer()
	r.want(`,"verb":`)
	l.Verb = r.text()
	r.want(`}`)
	if err := r.finish("a ledger line"); err != nil {
		return Line{}, err
	}
	if version != Version {
		return Line{}, fault.New(fault.Malformed, "ledger line %d has form %d, and this program reads form %d", l.Seq, version, Version).
			WithHint("use a newer program")
	}
	l.V = Version
	if err := l.parsed(raw); err != nil {
		return Line{}, err
	}
	return l, nil
}

// parsed holds what was read to the rules for lines and to the bytes it came from.
func (l Line) parsed(raw []byte) error {
	if err := l.Check(); err != nil {
		return fault.New(fault.Malformed, "%s", err.Error()).WithCause(err)
	}
	if !bytes.Equal(l.Canonical(), raw) {
		return fault.New(fault.Malformed, "ledger line %d is not in its canonical form", l.Seq).
			WithHint("compare it with the original: some program wrote it anew")
	}
	return nil
}

// Check says whether the line may stand in the ledger. A refusal is Invalid and
// names the line.
func (l Line) Check() error {
	switch {
	case l.V != Version:
		return l.wrong("form %d is not %d", l.V, Version)
	case l.Seq < 0 || l.Seq >= MaxSize:
		return l.wrong("its seq is outside 0 to %d", MaxSize-1)
	case l.Act < 0 || l.Act > l.Seq:
		return l.wrong("its act %d is not the seq of an earlier line or its own", l.Act)
	case l.Rev < 0:
		return l.wrong("revision %d is below 0", l.Rev)
	case !isHex(l.Digest, 64):
		return l.wrong("digest %q is not 64 lower-case hexadecimal digits", l.Digest)
	}
	for _, s := range append([]string{l.Actor, l.Verb, l.Noun, l.ID}, l.Tools...) {
		if !isText(s) {
			return l.wrong("%q is not UTF-8 text without NUL", s)
		}
	}
	return nil
}

// CheckAfter says whether salt and after are those that the line was written
// with. A refusal is Invalid and names the line.
func (l Line) CheckAfter(salt, after []byte) error {
	if len(salt) != SaltSize {
		return l.wrong("its salt has %d bytes, not %d", len(salt), SaltSize)
	}
	if got := Digest(salt, after); got != l.Digest {
		return l.wrong("its image has digest %s, but the line says %s", got, l.Digest)
	}
	return nil
}

func (l Line) wrong(format string, args ...any) error {
	return fault.New(fault.Invalid, "ledger line %d: "+format, append([]any{l.Seq}, args...)...)
}

func sortedUnique(list []string) []string {
	return slices.Compact(slices.Sorted(slices.Values(list)))
}

func isHex(s string, length int) bool {
	if len(s) != length {
		return false
	}
	for _, c := range []byte(s) {
		if (c < '0' || c > '9') && (c < 'a' || c > 'f') {
			return false
		}
	}
	return true
}
