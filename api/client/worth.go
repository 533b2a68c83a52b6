package client

import (
	"context"
	"encoding/json"
	"io"
	"net/http"
	"net/url"

	"pawl/api/wire"
)

// WorthQuery says what is asked of the worth of tools.
type WorthQuery struct {
	Limit      int // tools on a page; 0: as the server likes
	Cursor     string
	Tax        bool   // with the tax book
	MidQuarter string // years, with commas between
}

func (q WorthQuery) values() url.Values {
	out := pageOf(q.Limit, q.Cursor)
	if q.Tax {
		out.Set("tax", "true")
	}
	if q.MidQuarter != "" {
		out.Set("mid_quarter", q.MidQuarter)
	}
	return out
}

// Worth returns what the tools are worth, with one page of them, dearest first.
func (c *Client) Worth(ctx context.Context, q WorthQuery) (wire.Worth, error) {
	v, _, err := get[wire.Worth](ctx, c, q.values(), "worth")
	return v, err
}

// WorthAll returns what the tools are worth with every tool, however many.
func (c *Client) WorthAll(ctx context.Context, q WorthQuery) (out wire.Worth, err error) {
	q.Limit, q.Cursor = 0, ""
	query := q.values()
	query.Set("all", "true")
	return unbounded[wire.Worth](ctx, c, query, "worth")
}

// unbounded reads an answer of any length, a value at a time.
func unbounded[T any](ctx context.Context, c *Client, query url.Values, path ...string) (out T, err error) {
	err = c.do(ctx, request{method: http.MethodGet, path: path, query: query, long: true}, func(answer *http.Response) error {
		if err := json.NewDecoder(answer.Body).Decode(&out); err != nil {
			return lost{cause: err}
		}
		return nil
	})
	return out, err
}

// WorthWhole writes the JSON of all of it to w, every tool in it.
func (c *Client) WorthWhole(ctx context.Context, q WorthQuery, w io.Writer) error {
	q.Limit, q.Cursor = 0, ""
	query := q.values()
	query.Set("all", "true")
	return c.do(ctx, request{method: http.MethodGet, path: []string{"worth"}, query: query, long: true}, copied(w))
}

// WorthCSV writes every tool with its figures to w.
func (c *Client) WorthCSV(ctx context.Context, w io.Writer) error {
	return c.do(ctx, request{method: http.MethodGet, path: []string{"worth"}, query: url.Values{"format": {"csv"}}}, copied(w))
}

// Quotes records what new tools cost, from a CSV; size is in bytes, open is called
// for each try.
func (c *Client) Quotes(ctx context.Context, dryRun bool, size int64, open func() (io.ReadCloser, error), opts ...Option) (out wire.QuotesReport, err error) {
	return sendCSV[wire.QuotesReport](ctx, c, dryRun, size, open, opts, "worth", "quotes")
}

// ImportIndex records values of a price index, from a CSV.
func (c *Client) ImportIndex(ctx context.Context, dryRun bool, size int64, open func() (io.ReadCloser, error), opts ...Option) (out wire.IndexReport, err error) {
	return sendCSV[wire.IndexReport](ctx, c, dryRun, size, open, opts, "worth", "index")
}

func sendCSV[T any](ctx context.Context, c *Client, dryRun bool, size int64, open func() (io.ReadCloser, error), opts []Option, path ...string) (out T, err error) {
	call, err := callOf(opts)
	if err != nil {
		return out, err
	}
	r := request{method: http.MethodPost, path: path, header: asJSON(), body: open, size: size}
	if dryRun {
		r.query = url.Values{"dry_run": {"true"}}
	}
	r.header.Set("Content-Type", TypeCSV)
	r.header.Set("Idempotency-Key", `"`+call.Key+`"`)
	err = c.do(ctx, r, func(answer *http.Response) error { return c.decode(answer, &out) })
	return out, err
}

// PriceIndex returns the values of the index that the shop goes by.
func (c *Client) PriceIndex(ctx context.Context) (wire.PriceIndex, error) {
	v, _, err := get[wire.PriceIndex](ctx, c, nil, "worth", "index")
	return v, err
}

// EndIndex says that the shop no longer goes by its index.
func (c *Client) EndIndex(ctx context.Context, opts ...Option) (wire.IndexReport, error) {
	return post[wire.IndexReport](ctx, c, struct{}{}, opts, "worth", "index", "end")
}

// Lives returns how long the shop takes tools to be of use.
func (c *Client) Lives(ctx context.Context) (wire.Lives, error) {
	v, _, err := get[wire.Lives](ctx, c, nil, "worth", "lives")
	return v, err
}

// SetLife records a life of a class or a kind.
func (c *Client) SetLife(ctx context.Context, in wire.NewLife, opts ...Option) (wire.LifeOf, error) {
	return post[wire.LifeOf](ctx, c, in, opts, "worth", "lives")
}

// EndLife goes back to what is assumed.
func (c *Client) EndLife(ctx context.Context, id string, opts ...Option) (wire.LifeOf, error) {
	return post[wire.LifeOf](ctx, c, struct{}{}, opts, "worth", "lives", id, "end")
}

// ToolWorth returns what one tool is worth, with its quotes.
func (c *Client) ToolWorth(ctx context.Context, number string) (wire.ToolWorth, error) {
	v, _, err := get[wire.ToolWorth](ctx, c, nil, "tools", number, "worth")
	return v, err
}

// AddQuote records what a new tool of the sort costs.
func (c *Client) AddQuote(ctx context.Context, number string, in wire.NewQuote, opts ...Option) (wire.WorthTool, error) {
	return post[wire.WorthTool](ctx, c, in, opts, "tools", number, "quotes")
}

// Judge records what the condition of a tool takes off its value.
func (c *Client) Judge(ctx context.Context, number string, in wire.NewCondition, opts ...Option) (wire.WorthTool, error) {
	return post[wire.WorthTool](ctx, c, in, opts, "tools", number, "condition")
}

// IfLost returns an estimate for what a query names: place, person or everything.
func (c *Client) IfLost(ctx context.Context, what url.Values) (wire.Lost, error) {
	v, _, err := get[wire.Lost](ctx, c, what, "worth", "if-lost")
	return v, err
}

// Gaps returns what could not be proven today, with one page of tools.
func (c *Client) Gaps(ctx context.Context, limit int, cursor string) (wire.Gaps, error) {
	v, _, err := get[wire.Gaps](ctx, c, pageOf(limit, cursor), "gaps")
	return v, err
}

// GapsAll returns what could not be proven today with every tool, however many.
func (c *Client) GapsAll(ctx context.Context) (wire.Gaps, error) {
	return unbounded[wire.Gaps](ctx, c, url.Values{"all": {"true"}}, "gaps")
}

// GapsWhole writes the JSON of all of it to w, every tool in it.
func (c *Client) GapsWhole(ctx context.Context, w io.Writer) error {
	return c.do(ctx, request{method: http.MethodGet, path: []string{"gaps"}, query: url.Values{"all": {"true"}}, long: true}, copied(w))
}

// Policies returns the policies in force.
func (c *Client) Policies(ctx context.Context) (wire.Policies, error) {
	v, _, err := get[wire.Policies](ctx, c, nil, "policies")
	return v, err
}

// AddPolicy records a policy.
func (c *Client) AddPolicy(ctx context.Context, in wire.NewPolicy, opts ...Option) (wire.Policy, error) {
	return post[wire.Policy](ctx, c, in, opts, "policies")
}

// Policy returns one policy, with the ETag that a change needs.
func (c *Client) Policy(ctx context.Context, id string) (p wire.Policy, etag string, err error) {
	return get[wire.Policy](ctx, c, nil, "policies", id)
}

// EditPolicy changes a policy that was read with that ETag.
func (c *Client) EditPolicy(ctx context.Context, id, etag string, in wire.PolicyChange, opts ...Option) (wire.Policy, error) {
	return patch[wire.Policy](ctx, c, etag, in, opts, "policies", id)
}

// EndPolicy says that a policy is no longer in force.
func (c *Client) EndPolicy(ctx context.Context, id string, opts ...Option) (wire.Policy, error) {
	return post[wire.Policy](ctx, c, struct{}{}, opts, "policies", id, "end")
}
