package cli

import (
	"encoding/base64"
	"io"
	"mime"
	"mime/multipart"
	"net/mail"
	"strings"
	"testing"

	"pawl/api/wire"
)

// The message is one that net/mail and mime/multipart read, with every attached
// file byte for byte; it says why, and what it does not show.
func TestCheckpointMessage(t *testing.T) {
	c := wire.Checkpoint{Size: 12, Note: "pawl/0123456789abcdef\n12\nAAAA\n\n— pawl/0123456789abcdef xxxx\n", Key: "pawl/0123456789abcdef+1+A", Fingerprint: "ab12",
		TimeStamp: &wire.TimeStamp{At: 1_700_000_000_000_000, Answer: []byte{0, 1, 255, '\n'}}}
	const shop = "Küstengarage \"Nord\""
	m, err := mail.ReadMessage(strings.NewReader(checkpointMessage(c, shop)))
	if err != nil {
		t.Fatal(err)
	}
	subject, err := new(mime.WordDecoder).DecodeHeader(m.Header.Get("Subject"))
	if err != nil || !strings.Contains(subject, shop) || !strings.Contains(subject, "12 lines") {
		t.Errorf("subject %q, %v", subject, err)
	}
	_, params, err := mime.ParseMediaType(m.Header.Get("Content-Type"))
	if err != nil {
		t.Fatal(err)
	}
	files := map[string]string{}
	parts := multipart.NewReader(m.Body, params["boundary"])
	for {
		p, err := parts.NextPart()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		raw, err := io.ReadAll(p)
		if err != nil {
			t.Fatal(err)
		}
		if p.Header.Get("Content-Transfer-Encoding") == "base64" {
			if raw, err = base64.StdEncoding.DecodeString(strings.ReplaceAll(string(raw), "\r\n", "")); err != nil {
				t.Fatal(err)
			}
		}
		files[p.FileName()] = string(raw)
	}
	for name, want := range map[string]string{"checkpoint.txt": c.Note, "key.txt": c.Key + "\n", "checkpoint.txt.tsr": string(c.TimeStamp.Answer)} {
		if files[name] != want {
			t.Errorf("%s holds %q", name, files[name])
		}
	}
	for _, words := range []string{"Please keep this message", shop, "ab12", "2023-11-14T22:13:20", "does not show that a record was true"} {
		if !strings.Contains(files[""], words) {
			t.Errorf("the text says no %q", words)
		}
	}
	if letter := checkpointLetter(c, shop); !strings.HasSuffix(letter, ":\n"+c.Note) {
		t.Errorf("the letter ends without the note: %q", letter)
	}
}
