package page

import (
	"net/url"

	"pawl/model"
	"pawl/model/matching"
)

// matched is what the Find page shows of a worn serial.
type matched struct {
	Tools        []likelyTool
	None, Others string // chances, in words
	Registered   int
	Place        string // that was chosen, and has no part in it
}

// likelyTool is a tool that it may be, with its chance in words.
type likelyTool struct {
	model.MatchedTool
	Chance string
}

// Probable says whether the rules call it more than possible.
func (l likelyTool) Probable() bool { return l.Verdict == matching.Probable }

// findWorn looks up what is left of a serial.
func (p *Pages) findWorn(a *Ask, v found, q url.Values) (Reply, error) {
	m, err := p.shop.Match(a.R.Context(), a.By, model.MatchQuery{Reading: a.Query("reading"), Maker: a.Query("maker"), Kind: a.Query("kind"), Found: a.Query("found")})
	if err == nil {
		v.Worn = &matched{None: p.inHundred(a, m.None), Registered: m.Registered, Place: a.Query("place")}
		if m.Others >= 0.0005 {
			v.Worn.Others = p.inHundred(a, m.Others)
		}
		for _, c := range m.Candidates {
			v.Worn.Tools = append(v.Worn.Tools, likelyTool{c, p.inHundred(a, c.Posterior)})
		}
	}
	r := Show("find", v)
	r.form, r.err = formOf(q, nil), err
	return r, nil
}

// inHundred writes a chance in words, so that neither never nor certain is claimed.
func (p *Pages) inHundred(a *Ask, of float64) string {
	switch {
	case of < 0.01:
		return p.say(a, "find.worn.under")
	case of > 0.99:
		return p.say(a, "find.worn.over")
	}
	return p.say(a, "find.worn.chance", int(of*100+0.5))
}
