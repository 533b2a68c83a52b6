package api

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"testing"
	"time"

	"pawl/api/wire"
	"pawl/model/people"
)

// sized picks a number by PAWL_SIZE: quick, ci or full.
func sized(quick, ci, full int) int {
	switch os.Getenv("PAWL_SIZE") {
	case "ci":
		return ci
	case "full":
		return full
	}
	return quick
}

// onLoopback serves the shop over real connections, and gives the address and the secret
// of a token.
func (s *shop) onLoopback(h http.Handler, o ServeOptions) (address, secret string) {
	s.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		s.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- Serve(ctx, listener, h, o) }()
	s.Cleanup(func() {
		cancel()
		if err := <-done; err != nil {
			s.Error(err)
		}
	})
	var token wire.Token
	s.manager().post("/tokens", wire.NewToken{Name: "loopback", Role: string(people.Manager)}).want(http.StatusCreated).into(&token)
	return listener.Addr().String(), token.Secret
}

// cutOff sends the first bytes of a request and reads the first bytes of its answer, then
// hangs up.
func cutOff(t *testing.T, address string, request []byte, sent, read int) {
	t.Helper()
	conn, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	_ = conn.SetDeadline(time.Now().Add(20 * time.Second))
	if _, err := conn.Write(request[:sent]); err != nil {
		t.Fatal(err)
	}
	if _, err := io.CopyN(io.Discard, conn, int64(read)); err != nil {
		t.Fatalf("the answer ended before byte %d: %v", read, err)
	}
}

// exchanged sends a request whole, and gives its answer with its length in bytes.
func exchanged(t *testing.T, address string, request []byte) (status int, body []byte, length int) {
	t.Helper()
	conn, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	_ = conn.SetDeadline(time.Now().Add(20 * time.Second))
	if _, err := conn.Write(request); err != nil {
		t.Fatal(err)
	}
	raw, err := io.ReadAll(conn)
	if err != nil {
		t.Fatal(err)
	}
	answer, err := http.ReadResponse(bufio.NewReader(bytes.NewReader(raw)), nil)
	if err != nil {
		t.Fatalf("%v: %q", err, raw)
	}
	if body, err = io.ReadAll(answer.Body); err != nil {
		t.Fatal(err)
	}
	return answer.StatusCode, body, len(raw)
}

// reporting is the request that says something is wrong with a tool: one more line each
// time that it is done. Without a key nothing tells a repeat from another report.
func reporting(address, secret, number, key string) []byte {
	const body = `{"what":"dropped"}`
	head := fmt.Sprintf("POST /api/v1/tools/%s/wrong HTTP/1.1\r\nHost: %s\r\nAuthorization: Bearer %s\r\nContent-Type: application/json\r\nConnection: close\r\n", number, address, secret)
	if key != "" {
		head += "Idempotency-Key: " + key + "\r\n"
	}
	return fmt.Appendf(nil, "%sContent-Length: %d\r\n\r\n%s", head, len(body), body)
}

// A connection is cut after each byte of a request, and before each byte of its answer,
// and the request is sent again under its key: it is done once, and never twice. Without
// a key the same cuts double it, so the count can tell.
func TestCutAtEveryByte(t *testing.T) {
	s := openShop(t)
	tool := s.manager().registered(aTool("KD408B217"))
	address, secret := s.onLoopback(New(s.Shop, Options{}), ServeOptions{})
	lines := func() int64 {
		v, err := s.Vitals(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		return v.Lines
	}
	_, _, length := exchanged(t, address, reporting(address, secret, tool.Number, "key-9999"))
	step := sized(97, 13, 1)
	acts, doubled := 0, 0
	for _, keyed := range []bool{true, false} {
		whole := len(reporting(address, secret, tool.Number, "key-0000"))
		for at := 0; at <= whole+length; at += step {
			key := fmt.Sprintf("key-%04d", at)
			if !keyed {
				key, at = "", max(at, whole-step) // no cut before the end of a request does anything
			}
			request, before := reporting(address, secret, tool.Number, key), lines()
			cutOff(t, address, request, min(at, len(request)), max(0, min(at-whole, length)))
			status, body, _ := exchanged(t, address, request)
			if status != http.StatusOK || !json.Valid(body) {
				t.Fatalf("cut at %d, asked again: %d %s", at, status, body)
			}
			switch added := lines() - before; {
			case !keyed && added > 1:
				doubled++
			case added != 1:
				t.Fatalf("cut at byte %d of %d + %d: it was done %d times", at, whole, length, added)
			}
			acts++
		}
	}
	if doubled == 0 {
		t.Error("without a key nothing was done twice: this test could not tell")
	}
	t.Logf("%d acts cut and asked again; without a key %d were done twice", acts, doubled)
}
