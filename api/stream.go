package api

import (
	"io"
	"net/http"

	"github.com/gin-gonic/gin"
)

// stream is an answer whose length is not known before it was written.
type stream struct {
	mediaType   string
	disposition string
	write       func(io.Writer) error
}

// give writes the answer. What fails before the first byte is a fault; after it
// the answer is cut off.
func (s *stream) give(c *gin.Context) error {
	w := &lateWriter{c: c, s: s}
	if err := s.write(w); err != nil {
		if !w.begun {
			return err
		}
		return cut(err)
	}
	w.begin()
	return nil
}

// lateWriter sends the headers with the first bytes.
type lateWriter struct {
	c     *gin.Context
	s     *stream
	begun bool
}

func (w *lateWriter) begin() {
	if w.begun {
		return
	}
	w.begun = true
	h := w.c.Writer.Header()
	h.Set("Content-Type", w.s.mediaType)
	h.Set("Content-Disposition", w.s.disposition)
	w.c.Status(http.StatusOK)
	w.c.Writer.WriteHeaderNow()
}

func (w *lateWriter) Write(p []byte) (int, error) {
	w.begin()
	if w.c.Request.Method == http.MethodHead {
		return len(p), nil
	}
	return w.c.Writer.Write(p)
}
