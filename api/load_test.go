package api

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"pawl/api/wire"
	"pawl/model/people"
)

// requester sends requests over connections of its own.
type requester struct {
	*http.Client
	url, secret string
}

func newRequester(address, secret string) requester {
	return requester{&http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: 512}, Timeout: 60 * time.Second}, "http://" + address + Prefix, secret}
}

func (c requester) do(method, path, kind, key string, body io.Reader) (status int, h http.Header, said []byte, err error) {
	r, err := http.NewRequest(method, c.url+path, body)
	if err != nil {
		return 0, nil, nil, err
	}
	r.Header.Set("Authorization", "Bearer "+c.secret)
	if kind != "" {
		r.Header.Set("Content-Type", kind)
	}
	if key != "" {
		r.Header.Set("Idempotency-Key", key)
	}
	answer, err := c.Do(r)
	if err != nil {
		return 0, nil, nil, err
	}
	defer answer.Body.Close()
	said, err = io.ReadAll(answer.Body)
	return answer.StatusCode, answer.Header, said, err
}

// report says that something is wrong with a tool, which is one line in the ledger.
func (c requester) report(number, key string) (int, http.Header, error) {
	status, h, _, err := c.do(http.MethodPost, "/tools/"+number+"/wrong", jsonType, key, strings.NewReader(`{"what":"dropped"}`))
	return status, h, err
}

// tally is what became of many requests.
type tally struct {
	done, away, odd, broken atomic.Int64
}

func (n *tally) note(t *testing.T, status int, h http.Header, err error) {
	switch {
	case err != nil:
		n.broken.Add(1)
	case status == http.StatusOK:
		n.done.Add(1)
	case (status == http.StatusServiceUnavailable || status == http.StatusTooManyRequests) && h.Get("Retry-After") != "":
		n.away.Add(1)
	default:
		n.odd.Add(1)
		t.Errorf("an answer of %d, Retry-After %q", status, h.Get("Retry-After"))
	}
}

// sustainable is how many reports a second are answered to callers who wait for each.
func sustainable(t *testing.T, c requester, number string, long time.Duration) float64 {
	t.Helper()
	var n atomic.Int64
	var all sync.WaitGroup
	until := time.Now().Add(long)
	for i := range 16 {
		all.Go(func() {
			for k := 0; time.Now().Before(until); k++ {
				if status, _, err := c.report(number, fmt.Sprintf("calm-%d-%d", i, k)); err != nil || status != http.StatusOK {
					t.Errorf("%d, %v", status, err)
					return
				}
				n.Add(1)
			}
		})
	}
	all.Wait()
	return float64(n.Load()) / long.Seconds()
}

// storm sends at a rate, whether or not answers come.
func storm(t *testing.T, c requester, number string, rate float64, long time.Duration) (n *tally) {
	t.Helper()
	n = &tally{}
	var all sync.WaitGroup
	begun := time.Now()
	for i := 0; time.Since(begun) < long; i++ {
		if ahead := time.Duration(float64(i)/rate*float64(time.Second)) - time.Since(begun); ahead > 0 {
			<-time.After(ahead)
		}
		all.Go(func() {
			status, h, err := c.report(number, fmt.Sprintf("storm-%d", i))
			n.note(t, status, h, err)
		})
	}
	all.Wait()
	return n
}

// Twice as much is asked as can be answered. What is taken is done, what is not is told
// when to ask again, memory stays bounded, and soon after all is as it was. A server
// without bound, which is the control, turns nobody away.
func TestTwiceTheSustainableRate(t *testing.T) {
	if testing.Short() {
		t.Skip("figures of load mean nothing under the race detector, which CI runs with -short")
	}
	calm, long := time.Duration(sized(300, 1000, 5000))*time.Millisecond, time.Duration(sized(1, 3, 60))*time.Second
	for _, most := range []int{sized(16, 32, 256), 1 << 20} {
		s, c, numbers := crowdable(t, most)
		rate := sustainable(t, c, numbers[0], calm)
		before := lineCount(t, s)
		var n *tally
		grown := heapPeak(func() { n = storm(t, c, numbers[0], 2*rate, long) })
		t.Logf("at most %d at work: %.0f reports a second are sustained; of twice that for %s %d were done, %d turned away, %d broken off; the heap grew by %d MB",
			most, rate, long, n.done.Load(), n.away.Load(), n.broken.Load(), grown>>20)
		if most == 1<<20 {
			if n.away.Load() > 0 {
				t.Error("a server without bound turned somebody away")
			}
			break
		}
		if added := lineCount(t, s) - before; added != n.done.Load()+n.broken.Load() && n.broken.Load() == 0 {
			t.Errorf("%d were answered as done, and %d are there", n.done.Load(), added)
		}
		if n.away.Load() == 0 || n.done.Load() == 0 || n.broken.Load() > 0 {
			t.Error("nobody was turned away, or nothing was done, or connections broke")
		}
		if grown > 128<<20 {
			t.Errorf("the heap grew by %d MB; the most is 128", grown>>20)
		}
		_, quiet, others := crowdable(t, most)
		normalAgain(t, reporter{c, numbers[1]}, reporter{quiet, others[1]})
	}
}

// crowdable is a shop of two tools with a server of its own.
func crowdable(t *testing.T, most int) (*shop, requester, [2]string) {
	t.Helper()
	s := openShop(t)
	one, other := s.manager().registered(aTool("KD408B217")), s.manager().registered(aTool("KD408B218"))
	address, secret := s.onLoopback(New(s.Shop, Options{}), ServeOptions{Most: most})
	return s, newRequester(address, secret), [2]string{one.Number, other.Number}
}

func lineCount(t *testing.T, s *shop) int64 {
	t.Helper()
	v, err := s.Vitals(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	return v.Lines
}

// reporter reports of one tool.
type reporter struct {
	requester
	number string
}

// sixteen report at once; it is how long that takes, and how many were answered.
func (c reporter) sixteen() (took time.Duration, answered int64) {
	var ok atomic.Int64
	var all sync.WaitGroup
	since := time.Now()
	for i := range 16 {
		all.Go(func() {
			if status, _, err := c.report(c.number, fmt.Sprintf("after-%d-%d", i, since.UnixNano())); err == nil && status == http.StatusOK {
				ok.Add(1)
			}
		})
	}
	all.Wait()
	return time.Since(since), ok.Load()
}

// normalAgain requires that within 5 s after a storm sixteen callers, of whom none is turned
// away, wait at most twice as long as those of a server that had no storm.
func normalAgain(t *testing.T, stormed, quiet reporter) {
	t.Helper()
	begun := time.Now()
	for {
		least, _ := quiet.sixteen()
		took, answered := stormed.sixteen()
		if answered == 16 && took <= 2*least {
			t.Logf("normal %s after it ended", time.Since(begun).Round(time.Millisecond))
			return
		}
		if time.Since(begun) > 5*time.Second {
			t.Errorf("not as it should be 5 s after: %d of 16 done in %s, by a server without a storm in %s", answered, took, least)
			return
		}
	}
}

// Slow people hold connections, and keep nobody out: more of them than may be at work
// send a byte and wait, and others are answered meanwhile.
func TestSlowClientsKeepNobodyOut(t *testing.T) {
	s := openShop(t)
	tool := s.manager().registered(aTool("KD408B217"))
	const most = 8
	address, secret := s.onLoopback(New(s.Shop, Options{}), ServeOptions{Most: most})
	slow := func(i int) {
		t.Helper()
		conn, err := net.Dial("tcp", address)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { conn.Close() })
		fmt.Fprintf(conn, "PUT /api/v1/evidence/%064x HTTP/1.1\r\nHost: shop\r\nAuthorization: Bearer %s\r\nContent-Type: image/png\r\nContent-Length: 100000\r\n\r\n\x89", i, secret)
	}
	c := newRequester(address, secret)
	answered := func(key string) (ok, turned bool) {
		t.Helper()
		status, h, err := c.report(tool.Number, key)
		turned = err == nil && status == http.StatusServiceUnavailable && h.Get("Retry-After") == retryCrowded
		if ok = err == nil && status == http.StatusOK; !ok && !turned {
			t.Fatalf("beside slow uploads: %d, %v", status, err)
		}
		return ok, turned
	}
	for i := range 3 * most {
		slow(i)
	}
	// Only while their heads are read are they at work, all at the same moment perhaps.
	for i, tries := 0, 0; i < 20; {
		ok, _ := answered(fmt.Sprintf("beside-%d", i))
		if ok {
			i, tries = i+1, 0
		} else if tries++; tries > 50 {
			t.Fatal("slow uploads keep others out")
		} else {
			<-time.After(20 * time.Millisecond)
		}
	}
	// And there is an end of how many may wait: the control that the slow ones are counted.
	// One that came while too many were at work was sent away, so more are sent than fit.
	for i := range 10 * presentPerWork * most {
		slow(3*most + i)
		if _, turned := answered(fmt.Sprintf("crowded-%d", i)); turned {
			if _, again := answered(fmt.Sprintf("crowded-%d-again", i)); again {
				return
			}
		}
	}
	t.Error("any number may wait at once")
}

// A packet with many photos is built again and again while tools are scanned at the board.
func TestTakesBesidePackets(t *testing.T) {
	if sized(0, 0, 1) == 0 {
		t.Skip("a ratio of times wants many: PAWL_SIZE=full")
	}
	s := openShop(t)
	m := s.manager()
	s.person("Tech A", people.Technician)
	address, secret := s.onLoopback(New(s.Shop, Options{Log: slog.New(slog.DiscardHandler)}), ServeOptions{})
	c := newRequester(address, secret)
	var numbers []string
	for i := range 60 {
		tool := m.registered(aTool(fmt.Sprintf("KD408B%03d", i)))
		photo := append(aPhoto(t, 1200, asJPEG), bytes.Repeat([]byte{byte(i)}, 1<<20)...)
		m.upload(photo).want(http.StatusCreated)
		m.post("/tools/"+tool.Number+"/evidence", attachment{Evidence: []wire.Attach{{Kind: "plate", SHA256: shaOf(photo)}}}).want(http.StatusOK)
		numbers = append(numbers, tool.Number)
	}
	quiet := scans(t, c, numbers, 300)
	stop, built := make(chan struct{}), make(chan int)
	go func() {
		n := 0
		defer func() { built <- n }()
		for {
			select {
			case <-stop:
				return
			default:
			}
			if status, _, said, err := c.do(http.MethodPost, "/elsewhere", jsonType, "", strings.NewReader("{}")); err != nil || status >= 300 || len(said) < 60<<20 {
				t.Errorf("a copy: %d, %d bytes, %v", status, len(said), err)
				return
			}
			n++
		}
	}()
	beside := scans(t, c, numbers, 300)
	close(stop)
	copies := <-built
	t.Logf("take and return: quiet p99 %s; beside %d packets of 60 photos p99 %s: %.1f times", quiet, copies, beside, float64(beside)/float64(quiet))
	if copies == 0 || beside > 5*quiet {
		t.Errorf("p99 is %s, over 5 times the quiet %s; or no packet was built (%d)", beside, quiet, copies)
	}
}

// scans takes and returns tools in turn, and gives the 99th percentile of the times.
func scans(t *testing.T, c requester, numbers []string, n int) time.Duration {
	t.Helper()
	var took []time.Duration
	for i := range n {
		for _, act := range []string{"take", "return"} {
			body, since := `{}`, time.Now()
			if act == "take" {
				body = `{"to":"Tech A"}`
			}
			status, _, said, err := c.do(http.MethodPost, "/tools/"+numbers[i%len(numbers)]+"/"+act, jsonType, "", strings.NewReader(body))
			if err != nil || status != http.StatusOK || !json.Valid(said) {
				t.Fatalf("%s: %d %s, %v", act, status, said, err)
			}
			took = append(took, time.Since(since))
		}
	}
	slices.Sort(took)
	return took[len(took)*99/100]
}
