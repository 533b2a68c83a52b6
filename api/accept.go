package api

import (
	"mime"
	"net/http"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"pawl/model/fault"
)

// offered is where the media type agreed upon is kept.
const offered = "offered"

// agree settles everything about a request that does not need its body: its
// parameters, the media type of the answer and the replay key.
func (r route) agree(c *gin.Context) {
	values, err := parameters(c.Request, r.query)
	if err == nil {
		c.Set(queryKey, values)
		err = unescape(c)
	}
	if err == nil {
		err = r.agreeOn(c)
	}
	if err != nil {
		fail(c, err)
	}
}

func (r route) agreeOn(c *gin.Context) error {
	offers := r.offers
	if offers == nil {
		offers = []string{jsonType}
	}
	// A format in the address goes before Accept: a link in a browser cannot set it.
	if _, named := queryOf(c)["format"]; !named {
		chosen, err := negotiate(c.Request.Header.Values("Accept"), offers)
		if err != nil {
			return err
		}
		c.Set(offered, chosen)
	}
	if c.Request.Method == http.MethodGet || c.Request.Method == http.MethodHead {
		return nil
	}
	key, err := replayKey(c.Request.Header)
	c.Set(replay, key)
	return err
}

// negotiate picks the offer that the Accept headers like best, of equals the
// first (RFC 9110 section 12.5.1). No header takes anything.
func negotiate(accept []string, offers []string) (string, error) {
	ranges := mediaRanges(strings.Join(accept, ","))
	if len(accept) == 0 {
		return offers[0], nil
	}
	best, liked := "", 0.0
	for _, offer := range offers {
		if q := ranges.quality(offer); q > liked {
			best, liked = offer, q
		}
	}
	if best == "" {
		return "", fault.New(fault.NotAcceptable, "nothing here is in a media type that you take").
			WithHint("this route gives %s", strings.Join(offers, ", "))
	}
	return best, nil
}

// mediaRange is one element of Accept.
type mediaRange struct {
	kind, sub string
	q         float64
}

type acceptable []mediaRange

// mediaRanges reads the elements of Accept; one that cannot be read takes
// nothing.
func mediaRanges(accept string) acceptable {
	var all acceptable
	for _, element := range strings.Split(accept, ",") {
		name, parameters, err := mime.ParseMediaType(element)
		kind, sub, whole := strings.Cut(name, "/")
		q := 1.0
		if stated, ok := parameters["q"]; ok && err == nil {
			q, err = strconv.ParseFloat(stated, 64)
		}
		if err == nil && whole && q >= 0 && q <= 1 {
			all = append(all, mediaRange{kind, sub, q})
		}
	}
	return all
}

// quality is the weight of the most specific range that holds the media type;
// 0 takes it not.
func (a acceptable) quality(mediaType string) float64 {
	kind, sub, _ := strings.Cut(mediaType, "/")
	q, specific := 0.0, 0
	for _, r := range a {
		here := 0
		switch {
		case r.kind == kind && r.sub == sub:
			here = 3
		case r.kind == kind && r.sub == "*":
			here = 2
		case r.kind == "*" && r.sub == "*":
			here = 1
		}
		if here > specific {
			q, specific = r.q, here
		}
	}
	return q
}
