package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"
	_ "time/tzdata" // a shop's zone is known on a computer without zone files too

	"github.com/urfave/cli/v2"
	"golang.org/x/term"

	"pawl/api/client"
	"pawl/model/fault"
)

// session is one command's way to the API, with its streams.
type session struct {
	printer
	in         io.Reader
	inTerminal bool
	client     *client.Client
	closer     io.Closer // nil over the network
	progress   *progress
}

func (s *session) close() error {
	defer s.progress.clear()
	if s.closer == nil {
		return nil
	}
	return s.closer.Close()
}

// streams is a session without a way to any shop.
func (p *program) streams(c *cli.Context) *session {
	w := p.watch(c)
	return &session{in: w.beforeTyping(p.in), inTerminal: isTerminal(p.in) && !c.Bool("no-input"), progress: w, printer: printer{
		out: w.before(answers{p.out}), err: w.before(p.err), json: c.Bool("json"), quiet: c.Bool("quiet"), terminal: isTerminal(p.out),
	}}
}

// session opens the way that the global flags name.
func (p *program) session(c *cli.Context) (*session, error) {
	s := p.streams(c)
	err := error(nil)
	if c.String("server") != "" {
		s.client, err = p.remote(c)
	} else {
		s.client, s.closer, err = p.local(c)
	}
	if err != nil {
		s.progress.clear()
		return nil, err
	}
	if d := c.Duration("timeout"); d > 0 {
		s.client.Timeout = d
	}
	if !s.json {
		s.zone = sync.OnceValue(func() *time.Location { return s.zoneOf(c.Context) })
	}
	return s, nil
}

// zoneOf asks the shop for its zone; nil where it cannot be told.
func (s *session) zoneOf(ctx context.Context) *time.Location {
	settings, _, err := s.client.Settings(ctx)
	if err != nil {
		return nil
	}
	zone, err := time.LoadLocation(settings.Zone)
	if err != nil {
		return nil
	}
	return zone
}

// shopZone is the shop's zone for sentences, whoever reads them; nil where it cannot be told.
func (s *session) shopZone(ctx context.Context) *time.Location {
	if s.zone != nil {
		if zone := s.zone(); zone != nil {
			return zone
		}
	}
	return s.zoneOf(ctx)
}

// utcInstant is how the rules write an instant in a fault.
var utcInstant = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?Z`)
})

// inShopTime says the times in a fault as people here read them, to the minute in the shop's
// zone. Programs get them as they are.
func (s *session) inShopTime(ctx context.Context, err error) error {
	f := fault.Of(err)
	if s.json || f == nil || errors.As(err, &told{}) {
		return err
	}
	said := *f
	said.Fields = slices.Clone(f.Fields)
	all := []*string{&said.Message, &said.Hint}
	for i := range said.Fields {
		all = append(all, &said.Fields[i].Detail)
	}
	if !slices.ContainsFunc(all, func(text *string) bool { return utcInstant().MatchString(*text) }) {
		return err
	}
	zone := s.shopZone(ctx)
	if zone == nil {
		return err
	}
	for _, text := range all {
		*text = utcInstant().ReplaceAllStringFunc(*text, func(one string) string {
			at, err := time.Parse(time.RFC3339Nano, one)
			if err != nil {
				return one
			}
			return at.In(zone).Format("2006-01-02 15:04")
		})
	}
	return &said
}

// folder says where the shop here is kept.
type folder struct {
	dir       string
	database  string
	originals string // where photos and papers are, s3://…; empty: where the shop knows them
	left      bool   // the command also reads what was left behind of a shop that moved
	as        string // act as this person; empty: manager at this computer
	begins    bool   // the command may begin a shop where there is none
	debug     io.Writer
}

// beginners are the verbs that may begin a shop: whoever mistypes --data with
// another is told that there is none.
var beginners = []string{"settings", "people", "places", "register", "job", "labels", "token", "import", "serve", "demo"}

// lookers are the verbs that open a shop which has moved away: what they say of it is not
// taken for how things stand.
var lookers = []string{"verify", "doctor"}

// verbOf gives the first word of the command.
func verbOf(c *cli.Context) string {
	words := strings.Fields(c.Command.HelpName)
	return words[min(1, len(words)-1)]
}

func (p *program) folder(c *cli.Context) (folder, error) {
	if c.String("token-file") != "" {
		return folder{}, fault.New(fault.Malformed, "--token-file is for --server").WithHint("at this computer use --as NAME")
	}
	f := folder{dir: c.String("data"), database: c.String("db"), originals: c.String("originals"), as: c.String("as"),
		begins: slices.Contains(beginners, verbOf(c)), left: slices.Contains(lookers, verbOf(c))}
	if c.Bool("debug") {
		f.debug = p.err
	}
	if f.dir == "" {
		dir, err := defaultDir(os.Getenv)
		if err != nil {
			return folder{}, err
		}
		f.dir = dir
	}
	return f, nil
}

// defaultDir is $PAWL_DATA, else a folder of ours where data belongs: XDG Base
// Directory Specification 0.8, by which a relative $XDG_DATA_HOME is ignored.
func defaultDir(env func(string) string) (string, error) {
	if dir := env("PAWL_DATA"); dir != "" {
		return dir, nil
	}
	if base := env("XDG_DATA_HOME"); filepath.IsAbs(base) {
		return filepath.Join(base, "pawl"), nil
	}
	if home := env("HOME"); filepath.IsAbs(home) {
		return filepath.Join(home, ".local", "share", "pawl"), nil
	}
	return "", fault.New(fault.Malformed, "there is no home folder to keep the shop in").WithHint("give --data DIR")
}

func (p *program) local(c *cli.Context) (*client.Client, io.Closer, error) {
	f, err := p.folder(c)
	if err != nil {
		return nil, nil, err
	}
	return openLocal(c.Context, f)
}

// remote is the client of the server that --server names.
func (p *program) remote(c *cli.Context) (*client.Client, error) {
	for _, name := range []string{"data", "db", "originals", "as"} {
		if c.IsSet(name) {
			return nil, fault.New(fault.Malformed, "--%s is for a shop in a folder here, --server for one elsewhere", name).WithHint("give one of them")
		}
	}
	base := c.String("server")
	address, err := url.Parse(base)
	if err != nil || address.Host == "" || address.Scheme != "http" && address.Scheme != "https" || address.RawQuery != "" {
		return nil, fault.New(fault.Malformed, "%q is not the address of a server", base).WithHint("such as https://tools.example:8443")
	}
	token := ""
	if name := c.String("token-file"); name != "" {
		if token, err = readSecret(name); err != nil {
			return nil, err
		}
		token = strings.TrimSpace(token)
	}
	if token != "" && address.Scheme == "http" && !loopback(address.Hostname()) && !c.Bool("quiet") {
		fmt.Fprintln(p.err, "warning: plain HTTP beyond this computer: others on the way can read the token and all else")
	}
	return client.New(base, nil, token), nil
}

func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// localOnly refuses a command that works on the folder itself.
func localOnly(c *cli.Context) error {
	if c.String("server") == "" {
		return nil
	}
	return fault.New(fault.Malformed, "%s works on a folder of this computer, not on a server", c.Command.HelpName).
		WithHint("run it where the folder is, without --server")
}

func isTerminal(stream any) bool {
	f, ok := stream.(*os.File)
	return ok && term.IsTerminal(int(f.Fd()))
}
