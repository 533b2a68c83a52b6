package client

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"pawl/api/wire"
)

// PacketOfClaim builds a packet of a claim.
func (c *Client) PacketOfClaim(ctx context.Context, claim string, in wire.NewPacket, opts ...Option) (wire.Packet, error) {
	return post[wire.Packet](ctx, c, in, opts, "claims", claim, "packets")
}

// PacketOfTool builds a packet that shows whose a tool is.
func (c *Client) PacketOfTool(ctx context.Context, number string, in wire.NewPacket, opts ...Option) (wire.Packet, error) {
	return post[wire.Packet](ctx, c, in, opts, "tools", number, "packet")
}

// Packet returns one packet with its files as they are split, 0 for not at all; changed
// asks for what is on record otherwise by now.
func (c *Client) Packet(ctx context.Context, id string, maxPart int64, changed bool) (wire.Packet, error) {
	q := url.Values{"changed": {strconv.FormatBool(changed)}, "max_part": {strconv.FormatInt(maxPart, 10)}}
	v, _, err := get[wire.Packet](ctx, c, q, "packets", id)
	return v, err
}

// PacketFile writes one file of a packet to w. It must not be trusted unless the error is
// nil. MaxPart is how it was split; 0 is not at all.
func (c *Client) PacketFile(ctx context.Context, id, name string, maxPart int64, w io.Writer) error {
	r := request{method: http.MethodGet, path: []string{"packets", id, "files", name}, long: true}
	if maxPart > 0 {
		r.query = url.Values{"max_part": {strconv.FormatInt(maxPart, 10)}}
	}
	return c.do(ctx, r, copied(w))
}

// Elsewhere says how the copy kept elsewhere stands.
func (c *Client) Elsewhere(ctx context.Context) (wire.Elsewhere, error) {
	v, _, err := get[wire.Elsewhere](ctx, c, nil, "elsewhere")
	return v, err
}

// KeepElsewhere writes the copy of the shop that is kept elsewhere to w, a ZIP, without the
// originals that an earlier copy has, and with what is to be added. It must not be trusted unless the error is nil.
func (c *Client) KeepElsewhere(ctx context.Context, in wire.Have, add []string, w io.Writer) error {
	sent, err := json.Marshal(in)
	if err != nil {
		return err
	}
	r := request{method: http.MethodPost, path: []string{"elsewhere"}, header: http.Header{"Content-Type": {"application/json"}}, size: int64(len(sent)), long: true,
		body: func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(sent)), nil }}
	if len(add) > 0 {
		r.query = url.Values{"add": {strings.Join(add, ",")}}
	}
	return c.do(ctx, r, copied(w))
}
