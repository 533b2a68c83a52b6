package page

import (
	"bytes"
	"compress/gzip"
	"encoding/base64"
	"io"
	"strings"
	"sync"
	"time"

	"pawl/model/sheets"
)

// A spreadsheet that was looked at is wanted again when it is imported. A small
// one travels with the page; a larger one waits here, in memory, for whoever sent
// it. What does not come back is chosen once more.
const (
	maxTraveling = 6 << 10       // bytes of base 64 that a page carries along
	maxWaiting   = 64 << 20      // packed bytes of all that wait here
	maxWait      = 2 * time.Hour // how long one waits
	waitsHere    = "here:"       // before the key of one that does
)

// waitingSheet is a spreadsheet that waits, packed.
type waitingSheet struct {
	key, who string
	packed   []byte
	since    time.Time
}

// waitingSheets are those that wait, oldest first.
type waitingSheets struct {
	sync.Mutex
	all []waitingSheet
}

// keep packs a file for its page and gives what the page carries of it.
func (w *waitingSheets) keep(file []byte, who string, now time.Time, newKey func() string) string {
	packed := pack(file)
	if text := base64.StdEncoding.EncodeToString(packed); len(text) <= maxTraveling {
		return text
	}
	one := waitingSheet{key: newKey(), who: who, packed: packed, since: now}
	w.Lock()
	defer w.Unlock()
	w.all = append(w.all, one)
	sum := 0
	for i := len(w.all) - 1; i >= 0; i-- {
		if sum += len(w.all[i].packed); i < len(w.all)-1 && (sum > maxWaiting || now.Sub(w.all[i].since) > maxWait) {
			w.all = append([]waitingSheet(nil), w.all[i+1:]...)
			break
		}
	}
	return waitsHere + one.key
}

// again gives the file of which a page carried that, to the one who sent it; an
// error says that it is not here any more.
func (w *waitingSheets) again(carried, who string, now time.Time) (file []byte, err error) {
	key, here := strings.CutPrefix(carried, waitsHere)
	if !here {
		packed, err := base64.StdEncoding.DecodeString(carried)
		if err != nil {
			return nil, err
		}
		return unpack(packed)
	}
	w.Lock()
	defer w.Unlock()
	for _, one := range w.all {
		if one.key == key && one.who == who && now.Sub(one.since) <= maxWait {
			return unpack(one.packed)
		}
	}
	return nil, io.EOF
}

// pack makes a file small enough to wait.
func pack(file []byte) []byte {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	_, _ = z.Write(file) // a buffer takes all
	_ = z.Close()
	return b.Bytes()
}

// unpack gives a file back.
func unpack(packed []byte) ([]byte, error) {
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		return nil, err
	}
	file, err := io.ReadAll(io.LimitReader(z, sheets.MaxBytes+1))
	if err == nil && len(file) > sheets.MaxBytes {
		err = io.ErrShortBuffer
	}
	return file, err
}
