package ledger

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"pawl/model/fault"
)

// Checkpoint is a statement of the root over the first Size lines. Its text and
// its signature are those of C2SP tlog-checkpoint and C2SP signed-note.
type Checkpoint struct {
	Origin string // which ledger; also the name of the key that signs
	Size   int64  // lines, 0 to MaxSize
	Root   tlog.Hash
}

// Text returns the three lines that are signed: origin, size in decimal, root in
// base64, each with its newline.
func (c Checkpoint) Text() string {
	return fmt.Sprintf("%s\n%d\n%s\n", c.Origin, c.Size, c.Root)
}

// ParseCheckpoint reads the text of a checkpoint. Further lines, which the
// standard permits, are stepped over if they are not empty; all else that Text
// would not write is Malformed.
func ParseCheckpoint(text string) (Checkpoint, error) {
	lines := strings.Split(text, "\n")
	last := len(lines) - 1
	if last < 3 || lines[last] != "" {
		return Checkpoint{}, malformed("it needs three lines or more, each with its newline")
	}
	for _, line := range lines[:last] {
		if line == "" || !isText(line) || strings.ContainsFunc(line, unicode.IsControl) {
			return Checkpoint{}, malformed("line %q is empty or not plain text", line)
		}
	}
	size, err := strconv.ParseInt(lines[1], 10, 64)
	if err != nil || size < 0 || size > MaxSize || strconv.FormatInt(size, 10) != lines[1] {
		return Checkpoint{}, malformed("size %q is not a decimal number from 0 to %d without leading zeros", lines[1], MaxSize)
	}
	root, err := tlog.ParseHash(lines[2])
	if err != nil || root.String() != lines[2] {
		return Checkpoint{}, malformed("root %q is not the base64 of %d bytes", lines[2], tlog.HashSize)
	}
	return Checkpoint{Origin: lines[0], Size: size, Root: root}, nil
}

func malformed(format string, args ...any) *fault.Error {
	return fault.New(fault.Malformed, "not a checkpoint: "+format, args...)
}

// Sign returns the checkpoint as a signed note. The key must bear the origin's name.
func Sign(c Checkpoint, skey string) (string, error) {
	if parsed, err := ParseCheckpoint(c.Text()); err != nil || parsed != c {
		return "", fault.New(fault.Invalid, "checkpoint %q of size %d cannot be signed", c.Origin, c.Size).WithCause(err)
	}
	signer, err := note.NewSigner(skey)
	if err != nil {
		return "", fault.New(fault.Invalid, "the signing key for %q cannot be used", c.Origin).
			WithHint("it reads PRIVATE+KEY+name+id+base64, on one line").WithCause(err)
	}
	if signer.Name() != c.Origin {
		return "", fault.New(fault.Invalid, "the signing key is named %q, but the checkpoint of size %d is of %q", signer.Name(), c.Size, c.Origin)
	}
	msg, err := note.Sign(&note.Note{Text: c.Text()}, signer)
	if err != nil {
		return "", fault.New(fault.Internal, "the checkpoint of size %d cannot be signed", c.Size).WithCause(err)
	}
	return string(msg), nil
}

// Open returns the checkpoint of a signed note once the signature by vkey holds
// and the origin is the name of that key. Signatures by other keys are left
// alone, as C2SP signed-note asks.
func Open(msg, vkey string) (Checkpoint, error) {
	verifier, err := note.NewVerifier(vkey)
	if err != nil {
		return Checkpoint{}, fault.New(fault.Invalid, "verifying key %q cannot be used", vkey).
			WithHint("it reads name+id+base64, on one line").WithCause(err)
	}
	n, err := note.Open([]byte(msg), note.VerifierList(verifier))
	if err != nil {
		return Checkpoint{}, unopened(verifier, err)
	}
	// The decoder of note overlooks the unused bits of the last digit.
	if !isStrictBase64(n.Sigs[0].Base64) {
		return Checkpoint{}, fault.New(fault.Malformed, "the signature by %q is not in its canonical base64", verifier.Name())
	}
	c, err := ParseCheckpoint(n.Text)
	if err != nil {
		return Checkpoint{}, err
	}
	if c.Origin != verifier.Name() {
		return Checkpoint{}, fault.New(fault.Invalid, "the checkpoint of size %d is of %q, but the key is named %q", c.Size, c.Origin, verifier.Name())
	}
	return c, nil
}

// unopened tells a note that is none from one that the key did not sign.
func unopened(verifier note.Verifier, err error) error {
	var unsigned *note.UnverifiedNoteError
	var forged *note.InvalidSignatureError
	switch {
	case errors.As(err, &forged):
		return fault.New(fault.Invalid, "the signature by %q does not hold: the checkpoint was changed", verifier.Name()).
			WithHint("take the checkpoint anew from where it was kept").WithCause(err)
	case errors.As(err, &unsigned):
		return fault.New(fault.Invalid, "the checkpoint is not signed by %s+%08x", verifier.Name(), verifier.KeyHash()).
			WithHint("use the verifying key of the store that made it").WithCause(err)
	}
	return fault.New(fault.Malformed, "not a signed checkpoint").
		WithHint("it ends with an empty line and a line that starts with an em dash").WithCause(err)
}

func isStrictBase64(s string) bool {
	raw, err := base64.StdEncoding.DecodeString(s)
	return err == nil && base64.StdEncoding.EncodeToString(raw) == s
}

// GenerateKey makes an Ed25519 key pair named origin from 32 bytes of chance:
// skey signs and stays secret, vkey verifies.
func GenerateKey(chance io.Reader, origin string) (skey, vkey string, err error) {
	if !isKeyName(origin) {
		return "", "", fault.New(fault.Invalid, "%q cannot name a key: it must be text without spaces, control characters or +", origin)
	}
	skey, vkey, err = note.GenerateKey(chance, origin)
	if err != nil {
		return "", "", fault.New(fault.Internal, "no key can be made: the source of chance failed").WithCause(err)
	}
	return skey, vkey, nil
}

func isKeyName(name string) bool {
	return name != "" && isText(name) && !strings.Contains(name, "+") &&
		!strings.ContainsFunc(name, func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) })
}

// Fingerprint returns SHA-256 of the text of a verifying key as 64 lower-case
// hexadecimal digits: what people compare by voice or on paper.
func Fingerprint(vkey string) string {
	sum := sha256.Sum256([]byte(vkey))
	return hex.EncodeToString(sum[:])
}

// storeIDSize is the length of a store's id in hexadecimal digits.
const storeIDSize = 16

// Origin returns the name of a store's ledger and of its key: "pawl/" and the
// store's id, which is 16 lower-case hexadecimal digits.
func Origin(storeID string) (string, error) {
	if !isHex(storeID, storeIDSize) {
		return "", fault.New(fault.Invalid, "store id %q is not %d lower-case hexadecimal digits", storeID, storeIDSize)
	}
	return "pawl/" + storeID, nil
}
