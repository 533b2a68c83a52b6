package api

import (
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"pawl/model"
	"pawl/model/fault"
)

// entityTag is one element of If-Match or If-None-Match (RFC 9110 section 8.8.3).
type entityTag struct {
	weak bool
	text string
}

// entityTags reads a list of entity tags; ok is false where it is none. "*" is
// any.
func entityTags(headers []string) (tags []entityTag, any, ok bool) {
	rest := strings.Trim(strings.Join(headers, ","), " \t")
	if rest == "*" {
		return nil, true, true
	}
	for rest != "" {
		rest = strings.TrimLeft(rest, " \t,")
		if rest == "" {
			break
		}
		var tag entityTag
		rest, tag.weak = strings.CutPrefix(rest, "W/")
		opened, found := strings.CutPrefix(rest, `"`)
		end := strings.IndexByte(opened, '"')
		if !found || end < 0 {
			return nil, false, false
		}
		tag.text, rest = opened[:end], strings.TrimLeft(opened[end+1:], " \t")
		if rest != "" && rest[0] != ',' {
			return nil, false, false
		}
		tags = append(tags, tag)
	}
	return tags, false, len(tags) > 0
}

// matches compares weakly, as If-None-Match is compared (section 13.1.2). A
// header that cannot be read matches nothing.
func matches(headers []string, etag string) bool {
	tags, any, ok := entityTags(headers)
	if !ok {
		return false
	}
	for _, t := range tags {
		if t.text == etag {
			return true
		}
	}
	return any
}

// tagsIn gives the texts of the tags in a header; none where it cannot be read.
func tagsIn(headers []string) (out []string) {
	tags, _, _ := entityTags(headers)
	for _, t := range tags {
		out = append(out, t.text)
	}
	return out
}

// neverRead is a revision that no record has, and that does not stand for any.
const neverRead = -2

// revision reads If-Match: the revision on which a change is founded, the part
// of the entity tag before the dot. A tag that is not one of ours is a revision
// that no record has; "*" is met by whatever there is (RFC 9110 section 13.1.1).
func revision(c *gin.Context) (int64, error) {
	headers := c.Request.Header.Values("If-Match")
	tags, any, readable := entityTags(headers)
	switch {
	case len(headers) == 0:
		return 0, fault.New(fault.Precondition, "say which revision you have read").
			WithHint("read it, and send its ETag as If-Match")
	case any:
		return model.AnyRevision, nil
	case !readable:
		return 0, fault.New(fault.Malformed, "If-Match is not an entity tag").WithHint("send the ETag as it came, with its quotes")
	case len(tags) > 1:
		return 0, fault.New(fault.Malformed, "If-Match names %d revisions", len(tags)).WithHint("send the one that you have read")
	}
	before, _, _ := strings.Cut(tags[0].text, ".")
	rev, err := strconv.ParseInt(before, 10, 64)
	if err != nil || tags[0].weak || rev < 1 || strconv.FormatInt(rev, 10) != before {
		return neverRead, nil
	}
	return rev, nil
}

// bindChange reads a change and the revision on which it is founded.
func bindChange[T any](c *gin.Context) (in T, rev int64, err error) {
	if rev, err = revision(c); err == nil {
		in, err = bindPatch[T](c)
	}
	return in, rev, err
}
