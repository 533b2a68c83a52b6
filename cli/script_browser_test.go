package cli

import (
	"io"
	"net/http"
	"os"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"
)

// enter takes a link as a browser does, and keeps the cookie in a file.
func enter(ts *testscript.TestScript, neg bool, args []string) {
	onlyPlain(ts, false, args, 3, 3)
	at := strings.Replace(args[0], "/enter/", "/api/v1/enrolments/", 1) + "/enter"
	answer, err := http.Post(at, "application/json", strings.NewReader(args[2]))
	ts.Check(err)
	defer answer.Body.Close()
	if (answer.StatusCode == http.StatusCreated) == neg {
		text, _ := io.ReadAll(answer.Body)
		ts.Fatalf("%s: %s %s", at, answer.Status, text)
	}
	if !neg {
		c := answer.Cookies()[0]
		ts.Check(os.WriteFile(ts.MkAbs(args[1]+".cookie"), []byte(c.Name+"="+c.Value), 0o600))
	}
}

// withCookie asks with a cookie that enter kept, and prints what is answered.
func withCookie(ts *testscript.TestScript, neg bool, args []string) {
	onlyPlain(ts, false, args, 3, 3)
	r, err := http.NewRequest(args[1], args[2], nil)
	ts.Check(err)
	r.Header.Set("Cookie", ts.ReadFile(args[0]+".cookie"))
	answer, err := http.DefaultClient.Do(r)
	ts.Check(err)
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	ts.Check(err)
	if (answer.StatusCode < 400) == neg {
		ts.Fatalf("%s: %s %s", args[2], answer.Status, text)
	}
	_, err = ts.Stdout().Write(text)
	ts.Check(err)
}
