package client

import (
	"encoding/json"
	"io"
	"mime"
	"net/http"

	"pawl/api/wire"
	"pawl/model/fault"
)

// Most bytes of an answer that are read into memory. A page of a list holds at
// most 200 rows.
const (
	maxJSON    = 64 << 20
	maxProblem = 1 << 20
)

// failure is the fault that an answer other than 2xx stands for.
func (c *Client) failure(answer *http.Response) error {
	body, err := io.ReadAll(io.LimitReader(answer.Body, maxProblem))
	if err != nil {
		return lost{cause: err}
	}
	var p wire.Problem
	kind, _, _ := mime.ParseMediaType(answer.Header.Get("Content-Type"))
	if kind == wire.ProblemType && json.Unmarshal(body, &p) == nil {
		p.Status = answer.StatusCode
		return p.Fault()
	}
	e := wire.FaultOfStatus(answer.StatusCode, "")
	e.Message = "the server at " + c.base + " answered " + answer.Status + ", and not in Pawl's words"
	return e.WithHint("see that the address is right and what stands between you and the server")
}

// decode reads a JSON answer.
func (c *Client) decode(answer *http.Response, out any) error {
	body, err := io.ReadAll(io.LimitReader(answer.Body, maxJSON+1))
	if err != nil {
		return lost{cause: err}
	}
	if len(body) > maxJSON {
		return fault.New(fault.TooLarge, "the answer is longer than %d MB", maxJSON>>20).WithHint("ask for less at once")
	}
	if err := json.Unmarshal(body, out); err != nil {
		return fault.New(fault.Unavailable, "the server at %s answered, and not in Pawl's words", c.base).
			WithHint("see that the address is right").WithCause(err)
	}
	return nil
}

// copied writes the bytes of an answer to w.
func copied(w io.Writer) func(*http.Response) error {
	return func(answer *http.Response) error {
		from := &source{r: answer.Body}
		_, err := io.Copy(w, from)
		switch {
		case from.err != nil:
			return lost{cause: from.err, final: true}
		case err != nil:
			return fault.New(fault.Unavailable, "cannot write what the server sent: %s", err).WithCause(err)
		}
		return nil
	}
}
