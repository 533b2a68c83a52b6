package cli

import (
	"crypto/rand"
	"encoding/hex"
	"net/http/httptest"

	"github.com/johannesboyne/gofakes3"
	"github.com/johannesboyne/gofakes3/backend/s3mem"
	"github.com/rogpeppe/go-internal/testscript"
)

// startBucket starts an S3-compatible server with a bucket of that name, for the commands of
// the script that follow.
func startBucket(ts *testscript.TestScript, neg bool, args []string) {
	onlyPlain(ts, neg, args, 1, 1)
	backend := s3mem.New()
	ts.Check(backend.CreateBucket(args[0]))
	server := httptest.NewServer(gofakes3.New(backend).Server())
	ts.Defer(server.Close)
	ts.Setenv("AWS_ENDPOINT_URL_S3", server.URL)
	ts.Setenv("AWS_ACCESS_KEY_ID", "shop")
	ts.Setenv("AWS_SECRET_ACCESS_KEY", "hush-hush")
}

// makeDatabase keeps the URL of an empty database, which is dropped with the others.
func makeDatabase(ts *testscript.TestScript, neg bool, args []string) {
	onlyPlain(ts, neg, args, 1, 1)
	raw := make([]byte, 8)
	rand.Read(raw)
	base, name := ts.Getenv(scriptBase), ts.Getenv(scriptLaid)+"_"+hex.EncodeToString(raw)
	ts.Check(onBase(base, "CREATE DATABASE "+name))
	ts.Setenv(args[0], inDatabase(base, name))
}
