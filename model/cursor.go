package model

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"strings"

	"pawl/model/fault"
)

// Limits on one page of a list.
const (
	PageDefault = 50
	PageMost    = 200
)

func pageLimit(n int) (int, error) {
	switch {
	case n == 0:
		return PageDefault, nil
	case n < 0 || n > PageMost:
		return 0, fault.At("#/limit", "limit %d is not 1 to %d", n, PageMost)
	}
	return n, nil
}

// cursor stands between two rows of one list, in that list's total order.
type cursor struct {
	List string `json:"l"`
	Key  string `json:"k"`
	ID   string `json:"i,omitempty"`
}

// under names a list as some filters leave it, so that a cursor continues only
// what it was given out for. Filters that are all empty leave the whole list.
func under[T comparable](list string, filters T) string {
	var none T
	if filters == none {
		return list
	}
	b, err := json.Marshal(filters)
	if err != nil {
		panic(err) // texts, numbers and flags always marshal
	}
	sum := sha256.Sum256(b)
	return list + "/" + hex.EncodeToString(sum[:8])
}

// maxCursor bounds what is decoded.
const maxCursor = 512

func (c cursor) String() string {
	b, err := json.Marshal(c)
	if err != nil {
		panic(err) // three strings always marshal
	}
	return base64.RawURLEncoding.EncodeToString(b)
}

// parseCursor reads a cursor of the named list; empty is the beginning. Only
// the very text that String gives is taken.
func parseCursor(list, text string) (cursor, error) {
	if text == "" {
		return cursor{List: list}, nil
	}
	if len(text) > maxCursor {
		return cursor{}, badCursor()
	}
	raw, err := base64.RawURLEncoding.DecodeString(text)
	if err != nil {
		return cursor{}, badCursor()
	}
	var c cursor
	if json.Unmarshal(raw, &c) != nil || c.String() != text || strings.ContainsRune(c.Key+c.ID, 0) {
		return cursor{}, badCursor()
	}
	if c.List != list {
		of, _, _ := strings.Cut(c.List, "/")
		if asked, _, _ := strings.Cut(list, "/"); of == asked {
			return cursor{}, fault.New(fault.Malformed, "the cursor was given out under other filters").
				WithHint("keep the filters from page to page, or begin again without a cursor")
		}
		return cursor{}, badCursor()
	}
	return c, nil
}

func badCursor() error {
	return fault.New(fault.Malformed, "the cursor is not one that this list gave").WithHint("begin again without a cursor")
}
