package api

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"pawl/model"
	"pawl/model/fault"
	"pawl/model/people"
)

const (
	actorKey = "actor"
	replay   = "replay key"
)

// maxSecret is longer than any secret of ours.
const maxSecret = 512

// bearer reads the secret of RFC 6750 section 2.1; the scheme in either case
// (RFC 9110 section 11.1).
func bearer(h http.Header) (string, error) {
	stated := h.Values("Authorization")
	if len(stated) == 0 {
		return "", fault.New(fault.Unauthenticated, "nobody known is asking").
			WithHint(`send a token: "Authorization: Bearer …"; a manager makes one`)
	}
	scheme, secret, _ := strings.Cut(stated[0], " ")
	secret = strings.TrimLeft(secret, " ")
	plain := strings.IndexFunc(secret, func(r rune) bool { return r <= ' ' || r > '~' }) < 0
	if len(stated) > 1 || !strings.EqualFold(scheme, "Bearer") || secret == "" || len(secret) > maxSecret || !plain {
		return "", fault.New(fault.Unauthenticated, "the Authorization header is not one bearer token").
			WithHint(`send "Authorization: Bearer …" once`)
	}
	return secret, nil
}

// by says to the Shop who asks, and under which replay key.
func by(c *gin.Context) model.By {
	actor, _ := c.MustGet(actorKey).(people.Actor)
	return model.By{Actor: actor, Key: c.GetString(replay), Replayed: &exchangeOf(c.Request).replayed}
}

// replayKey reads Idempotency-Key: 1 to 255 visible ASCII characters, bare or
// as a quoted Structured Field string (RFC 9651 section 4.2.5). None is empty.
func replayKey(h http.Header) (string, error) {
	stated := h.Values("Idempotency-Key")
	switch len(stated) {
	case 0:
		return "", nil
	case 1:
	default:
		return "", notAKey("it is stated %d times", len(stated))
	}
	key := stated[0]
	if strings.HasPrefix(key, `"`) {
		var err error
		if key, err = unquote(key); err != nil {
			return "", err
		}
	}
	if len(key) < 1 || len(key) > 255 {
		return "", notAKey("it has %d characters", len(key))
	}
	for i := range len(key) {
		if key[i] <= ' ' || key[i] > '~' {
			return "", notAKey("character %d is not visible ASCII", i+1)
		}
	}
	return key, nil
}

// unquote reads a Structured Field string without parameters.
func unquote(s string) (string, error) {
	var b strings.Builder
	for i := 1; i < len(s); i++ {
		switch {
		case s[i] == '"' && i == len(s)-1:
			return b.String(), nil
		case s[i] == '"':
			return "", notAKey("something follows its closing quote")
		case s[i] == '\\' && i+1 < len(s) && (s[i+1] == '"' || s[i+1] == '\\'):
			i++
		case s[i] == '\\':
			return "", notAKey("a backslash stands before neither a quote nor a backslash")
		}
		b.WriteByte(s[i])
	}
	return "", notAKey("its closing quote is missing")
}

func notAKey(format string, args ...any) error {
	return fault.New(fault.Malformed, "the Idempotency-Key cannot be read: "+format, args...).
		WithHint("send 1 to 255 visible ASCII characters once, such as a UUID, bare or in quotes")
}
