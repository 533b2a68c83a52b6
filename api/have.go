package api

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"

	"pawl/model/fault"
	"pawl/model/packets"
)

// maxHave is the most bytes of a list of originals that an earlier copy has: some four
// million names, which are held at 32 bytes each.
const maxHave = 256 << 20

// haveReader reads a list of originals word by word.
type haveReader struct {
	word *limited
	*json.Decoder
}

// readHave reads the names of originals that an earlier copy has as they come: of a shop's
// thousands of photos the list is longer than other bodies may be. No single word of it may
// be, and there may be no body.
func readHave(r *http.Request) (had packets.Had, err error) {
	word := limit(limit(r.Body, maxHave), maxJSON)
	d := haveReader{word, json.NewDecoder(word)}
	first, err := d.next()
	if err == io.EOF {
		return had, nil
	}
	if err := checkMedia(r.Header, jsonType); err != nil {
		return had, err
	}
	if err != nil {
		return had, err
	}
	if first != json.Delim('{') {
		return had, fault.At("#", "the body is no object")
	}
	err = d.members(&had)
	return had, err
}

// next is the next token; what is not JSON is a fault of its own, and io.EOF the end.
func (d haveReader) next() (json.Token, error) {
	token, err := d.Token()
	var f *fault.Error
	if err == nil || err == io.EOF || errors.As(err, &f) {
		return token, err
	}
	return nil, notJSON(err)
}

// members reads the object to its end, and that nothing follows it.
func (d haveReader) members(had *packets.Had) error {
	for named := false; ; named = true {
		name, err := d.next()
		switch {
		case err != nil:
			return orOther(err, nil)
		case name == json.Delim('}'):
			if _, err := d.next(); err != io.EOF {
				return orOther(err, fault.New(fault.Malformed, "something follows the JSON text, at byte %d", d.InputOffset()))
			}
			return nil
		case name != "have":
			return unknown(d.Decoder, fmt.Sprint(name))
		case named:
			return fault.New(fault.Malformed, "member %q is there twice, at byte %d again", "have", d.InputOffset()).WithHint("send it once")
		}
		if err := d.names(had); err != nil {
			return err
		}
	}
}

// unknown refuses a member that there is not, once its value was read.
func unknown(d *json.Decoder, name string) error {
	var value json.RawMessage
	if err := d.Decode(&value); err != nil {
		var f *fault.Error
		if errors.As(err, &f) {
			return err
		}
		return notJSON(err)
	}
	return fault.At("#/"+escape(name), "there is no such member; have is taken")
}

// names reads the array of names. Each may be as long as another body; the whole of it is
// bounded by maxHave.
func (d haveReader) names(had *packets.Had) error {
	next := func() (json.Token, error) {
		d.word.left = maxJSON
		return d.next()
	}
	if token, err := next(); err != nil || token != json.Delim('[') {
		return orOther(err, fault.At("#/have", "it is no array of names"))
	}
	for i := 0; ; i++ {
		token, err := next()
		if err != nil || token == json.Delim(']') {
			return orOther(err, nil)
		}
		name, is := token.(string)
		if !is {
			return fault.At(fmt.Sprintf("#/have/%d", i), "it is no text")
		}
		if err := had.Add(name); err != nil {
			return fault.At(fmt.Sprintf("#/have/%d", i), "%s", fault.Of(err).Message)
		}
	}
}

// orOther is an error that stopped the reading, or else what was found.
func orOther(err, found error) error {
	switch {
	case err == io.EOF:
		return notJSON(io.ErrUnexpectedEOF)
	case err != nil:
		return err
	}
	return found
}
