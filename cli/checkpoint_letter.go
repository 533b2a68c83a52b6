package cli

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/textproto"
	"strings"

	"pawl/api/wire"
)

// checkpointWords says to whoever keeps a checkpoint what it is for.
func checkpointWords(c wire.Checkpoint, shop string) string {
	sum := sha256.Sum256([]byte(c.Note))
	dated := ""
	if c.TimeStamp != nil {
		dated = fmt.Sprintf("\nA time-stamp authority dated it %s.\n", c.TimeStamp.At)
	}
	return fmt.Sprintf(`Checkpoint of the tool register of %s

Please keep this message as you got it; there is nothing else to do.

It holds the signed summary of the register's ledger, as of its first %d lines.
It tells nothing of any tool, person or price. If there is ever a claim, what the
shop hands over then can be compared with it: whatever was recorded before this
message, and was changed or left out since, shows. So it is worth something only
with somebody outside the shop.

It does not show that a record was true, who owns a tool, or that no other
ledger exists.
%s
SHA-256 of the checkpoint:
%s
Fingerprint of the key that signed it:
%s

To compare: pawl verify PACKET.zip --against checkpoint.txt --key KEY
`, shop, c.Size, dated, hex.EncodeToString(sum[:]), c.Fingerprint)
}

// checkpointLetter is a text to be pasted into a message, with the note in it.
func checkpointLetter(c wire.Checkpoint, shop string) string {
	return checkpointWords(c, shop) + "\nThe checkpoint, from the line after this one up to the end:\n" + c.Note
}

// checkpointMessage is an unsent message with the note attached. Who sends it to
// whom, and when, is the sender's program's to add (RFC 5322 section 3.6).
func checkpointMessage(c wire.Checkpoint, shop string) string {
	var out bytes.Buffer
	parts := multipart.NewWriter(&out)
	sum := sha256.Sum256([]byte(c.Note))
	_ = parts.SetBoundary("checkpoint-" + hex.EncodeToString(sum[:8])) // of letters, digits and a hyphen
	subject := fmt.Sprintf("Checkpoint of the tool register of %s, %d lines: please keep", shop, c.Size)
	fmt.Fprintf(&out, "Subject: %s\r\nX-Unsent: 1\r\nMIME-Version: 1.0\r\nContent-Type: multipart/mixed; boundary=%q\r\n\r\n", mime.QEncoding.Encode("utf-8", subject), parts.Boundary())
	// A bytes.Buffer takes all that is written; no error can come of it.
	body, _ := parts.CreatePart(textproto.MIMEHeader{"Content-Type": {"text/plain; charset=utf-8"}, "Content-Transfer-Encoding": {"quoted-printable"}})
	text := quotedprintable.NewWriter(body)
	_, _ = text.Write([]byte(strings.ReplaceAll(checkpointWords(c, shop), "\n", "\r\n")))
	_ = text.Close()
	attach(parts, "checkpoint.txt", "text/plain; charset=utf-8", []byte(c.Note))
	attach(parts, "key.txt", "text/plain; charset=utf-8", []byte(c.Key+"\n"))
	if c.TimeStamp != nil {
		attach(parts, "checkpoint.txt.tsr", "application/timestamp-reply", c.TimeStamp.Answer)
	}
	_ = parts.Close()
	return out.String()
}

// attach adds a file byte for byte, in lines of 76 (RFC 2045 section 6.8).
func attach(parts *multipart.Writer, name, mediaType string, data []byte) {
	w, _ := parts.CreatePart(textproto.MIMEHeader{"Content-Type": {mediaType}, "Content-Transfer-Encoding": {"base64"},
		"Content-Disposition": {fmt.Sprintf("attachment; filename=%q", name)}})
	for text := base64.StdEncoding.EncodeToString(data); text != ""; {
		n := min(76, len(text))
		fmt.Fprintf(w, "%s\r\n", text[:n])
		text = text[n:]
	}
}
