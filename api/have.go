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

// readHave reads the names of originals that an earlier copy has as they come: of a shop's
// thousands of photos the list is longer than other bodies may be. No single word of it may
// be, and there may be no body.
func readHave(r *http.Request) (had packets.Had, err error) {
	word := limit(limit(r.Body, maxHave), maxJSON)
	d := json.NewDecoder(word)
	next := func() (json.Token, error) {
		token, err := d.Token()
		var f *fault.Error
		if err == nil || err == io.EOF || errors.As(err, &f) {
			return token, err
		}
		return nil, notJSON(err)
	}
	first, err := next()
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
	for named := false; ; {
		name, err := next()
		switch {
		case err == io.EOF:
			return had, notJSON(io.ErrUnexpectedEOF)
		case err != nil:
			return had, err
		case name == json.Delim('}'):
			if _, err := next(); err != io.EOF {
				return had, orOther(err, fault.New(fault.Malformed, "something follows the JSON text, at byte %d", d.InputOffset()))
			}
			return had, nil
		case name != "have":
			return had, unknown(d, fmt.Sprint(name))
		case named:
			return had, fault.New(fault.Malformed, "member %q is there twice, at byte %d again", "have", d.InputOffset()).WithHint("send it once")
		}
		named = true
		each := func() (json.Token, error) {
			word.left = maxJSON // the whole of it is bounded by maxHave
			return next()
		}
		if err := readNames(each, &had); err != nil {
			return had, err
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

// readNames reads the array of names.
func readNames(next func() (json.Token, error), had *packets.Had) error {
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
