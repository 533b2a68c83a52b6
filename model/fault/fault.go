// Package fault holds the one kind of error that Pawl's rules make. A fault is
// made where the rule lives and translated once at each edge: to an HTTP status
// in api/wire, to an exit code in cli. An error of any other type is internal:
// people are told so without detail, and the log gets all of it.
package fault

import (
	"errors"
	"fmt"
)

// Kind says what sort of failure a fault is; each edge has one table over kinds.
type Kind string

const (
	Malformed       Kind = "malformed"       // cannot be parsed: bad syntax, unknown flag or parameter
	Invalid         Kind = "invalid"         // parsed, but a value is not acceptable
	Unauthenticated Kind = "unauthenticated" // nobody known is asking
	Forbidden       Kind = "forbidden"       // known, but not allowed
	NotFound        Kind = "not found"       // no such thing, or hidden from the one who asks
	NotAllowed      Kind = "method"          // the route exists, but not with this method
	NotAcceptable   Kind = "not acceptable"  // no representation in a media type asked for
	Conflict        Kind = "conflict"        // the state of things does not permit it now
	Refused         Kind = "refused"         // a rule says no, whatever the state of others
	Stale           Kind = "stale"           // the record changed since it was read
	Precondition    Kind = "precondition"    // the caller must say which revision was read
	TooLarge        Kind = "too large"       // over a stated limit of size
	Media           Kind = "media"           // a media type that is not taken
	Throttled       Kind = "throttled"       // too much at once from this caller
	Unavailable     Kind = "unavailable"     // cannot be served now; safe to try again under the same key
	Internal        Kind = "internal"        // our mistake
)

// Field is one value that was not acceptable.
type Field struct {
	Pointer string `json:"pointer"` // where, as a JSON Pointer fragment: "#/purchase/price"
	Detail  string `json:"detail"`  // what is wrong with it, and what would be right

	// Of a value in a spreadsheet: where a person finds it there, and the sort of
	// mistake for programs.
	Row    int    `json:"row,omitempty"`
	Column string `json:"column,omitempty"`
	Value  string `json:"value,omitempty"`
	Code   string `json:"code,omitempty"`
}

// Error is a failure that a person can act on.
type Error struct {
	Kind    Kind
	Message string            // what was wrong, with which value; lower case, no full stop
	Hint    string            // what to do next; may be empty
	Fields  []Field           // for Invalid: each value at fault
	Facts   map[string]string // for programs: who holds the tool and since when, the first of two duplicates
	Cause   error             // for the log only
}

func (e *Error) Error() string {
	if e.Hint == "" {
		return e.Message
	}
	return e.Message + " (" + e.Hint + ")"
}

func (e *Error) Unwrap() error { return e.Cause }

// New makes a fault of a kind. The message is formatted as by fmt.Sprintf.
func New(kind Kind, format string, args ...any) *Error {
	return &Error{Kind: kind, Message: fmt.Sprintf(format, args...)}
}

// WithHint returns the fault with what to do next.
func (e *Error) WithHint(format string, args ...any) *Error {
	e.Hint = fmt.Sprintf(format, args...)
	return e
}

// WithFact returns the fault with a fact for programs.
func (e *Error) WithFact(name, value string) *Error {
	if e.Facts == nil {
		e.Facts = map[string]string{}
	}
	e.Facts[name] = value
	return e
}

// WithCause returns the fault with the error that led to it, for the log.
func (e *Error) WithCause(err error) *Error {
	e.Cause = err
	return e
}

// At makes an Invalid fault about one value; pointer is a JSON Pointer
// fragment such as "#/purchase/price".
func At(pointer, format string, args ...any) *Error {
	detail := fmt.Sprintf(format, args...)
	return &Error{Kind: Invalid, Message: detail, Fields: []Field{{Pointer: pointer, Detail: detail}}}
}

// Of returns the fault within err. An error that holds none is wrapped as
// Internal, with a message that says nothing of its inside; nil stays nil.
func Of(err error) *Error {
	if err == nil {
		return nil
	}
	var e *Error
	if errors.As(err, &e) {
		return e
	}
	return &Error{Kind: Internal, Message: "something went wrong inside Pawl; nothing was changed", Hint: "try again; if it stays, look in the log", Cause: err}
}

// Is says whether err holds a fault of the kind.
func Is(err error, kind Kind) bool {
	var e *Error
	return errors.As(err, &e) && e.Kind == kind
}
