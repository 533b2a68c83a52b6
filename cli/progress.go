package cli

import (
	"io"
	"os"
	"sync"
	"time"

	"github.com/schollz/progressbar/v3"
	"github.com/urfave/cli/v2"
)

// progress tells a person at a terminal that work goes on, in one line on stderr
// that is taken away before anything else is printed. Nil tells nobody.
type progress struct {
	w io.Writer

	mu    sync.Mutex
	bar   *progressbar.ProgressBar // of a count; nil before one
	shown bool                     // the bar stands on the screen
	quit  chan struct{}            // ends the clock; nil: none runs
	moved sync.WaitGroup
}

// Something is to be seen within 100 ms, and moves on about as often (Command
// Line Interface Guidelines, "Robustness").
const beat = 100 * time.Millisecond

// watch begins to tell of a command, if somebody watches stderr who wants to be
// told: --json, --quiet and --debug have other things there, or nothing, and a
// dumb terminal cannot take a line away.
func (p *program) watch(c *cli.Context) *progress {
	if !isTerminal(p.err) || c.Bool("json") || c.Bool("quiet") || c.Bool("debug") || os.Getenv("TERM") == "dumb" {
		return nil
	}
	w := &progress{w: p.err}
	w.wait(c.Command.Name)
	return w
}

func (p *progress) newBar(what string, total int, more ...progressbar.Option) *progressbar.ProgressBar {
	return progressbar.NewOptions(total, append(more, progressbar.OptionSetWriter(p.w), progressbar.OptionSetDescription(what),
		progressbar.OptionSetWidth(20), progressbar.OptionSetElapsedTime(true), progressbar.OptionClearOnFinish())...)
}

// wait tells that something goes on whose end is not known, and how long it has
// taken; the clock runs until something is printed.
func (p *progress) wait(what string) {
	bar := p.newBar(what, -1, progressbar.OptionSetSpinnerChangeInterval(0))
	bar.StartWithoutRender()
	p.quit = make(chan struct{})
	p.moved.Go(func() {
		clock := time.NewTicker(beat)
		defer clock.Stop()
		for {
			select {
			case <-p.quit:
				_ = bar.Clear()
				return
			case <-clock.C:
				_ = bar.RenderBlank()
			}
		}
	})
}

// count tells from now on how many of a known number are done.
func (p *progress) count(what string, total int) {
	if p == nil || total == 0 {
		return
	}
	p.clear()
	p.mu.Lock()
	defer p.mu.Unlock()
	p.bar = p.newBar(what, total, progressbar.OptionShowCount(), progressbar.OptionSetPredictTime(true), progressbar.OptionThrottle(beat))
	_ = p.bar.RenderBlank()
	p.shown = true
}

// step tells that one more is done.
func (p *progress) step() {
	if p == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.bar != nil {
		_ = p.bar.Add(1)
		p.shown = !p.bar.IsFinished() // the last step takes it away
	}
}

// clear takes the line away. A count shows again with its next step.
func (p *progress) clear() {
	if p == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.quit != nil {
		close(p.quit)
		p.moved.Wait()
		p.quit = nil
	}
	if p.shown {
		_ = p.bar.Clear()
		p.shown = false
	}
}

// before gives a writer that takes the line away first.
func (p *progress) before(w io.Writer) io.Writer {
	if p == nil {
		return w
	}
	return after{p: p, Writer: w}
}

// beforeTyping gives a reader that takes the line away before a person types.
func (p *progress) beforeTyping(r io.Reader) io.Reader {
	if p == nil || !isTerminal(r) {
		return r
	}
	return after{p: p, Reader: r}
}

// after writes or reads after the line was taken away.
type after struct {
	p *progress
	io.Writer
	io.Reader
}

func (a after) Write(b []byte) (int, error) {
	a.p.clear()
	return a.Writer.Write(b)
}

func (a after) Read(b []byte) (int, error) {
	a.p.clear()
	return a.Reader.Read(b)
}
