package cli

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"pawl/api"
	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model"
	"pawl/model/demo"
	"pawl/model/fault"
	"pawl/model/people"
)

// This file alone knows the shop: all others ask the API.

// openShop opens the shop in a folder, and makes one where there is none if the
// command may begin one.
func openShop(ctx context.Context, f folder, log *slog.Logger) (*model.Shop, error) {
	o := options(f, log)
	o.Originals = f.originals
	return model.Open(ctx, o)
}

// options say how the shop in a folder is opened.
func options(f folder, log *slog.Logger) model.Options {
	return model.Options{Dir: f.dir, Database: f.database, Existing: !f.begins, Left: f.left, Program: "pawl", Log: log, Env: os.Getenv,
		HEICConverter: os.Getenv("PAWL_HEIC_CONVERTER"), Unsafe: os.Getenv("PAWL_UNSAFE_DATABASE") == "yes", Outside: outside()}
}

// openLocal carries the API inside this process.
func openLocal(ctx context.Context, f folder) (*client.Client, io.Closer, error) {
	log := logTo(f.debug, slog.LevelDebug)
	shop, err := openShop(ctx, f, log)
	if err != nil {
		return nil, nil, err
	}
	actor := model.Actor{Role: people.Manager, Via: people.ViaLocal}
	if f.as != "" {
		if actor, err = shop.ActorNamed(ctx, f.as); err != nil {
			shop.Close()
			return nil, nil, err
		}
	}
	transport := client.InProcess{Handler: api.New(shop, api.Options{Log: log, Version: Version, Address: lastListening(f.dir)}), Actor: actor}
	return client.New("", transport, ""), shop, nil
}

// outside is the way to whoever the settings name: as the system says, proxies
// too.
func outside() http.RoundTripper { return http.DefaultTransport }

// logTo writes a log of one JSON object a line.
func logTo(w io.Writer, least slog.Level) *slog.Logger {
	if w == nil {
		return slog.New(slog.DiscardHandler)
	}
	return slog.New(slog.NewJSONHandler(w, &slog.HandlerOptions{Level: least}))
}

// packetAgainst is what to hold a packet against.
type packetAgainst struct {
	key     string
	against []string
	roots   string
}

// verifyPacket checks a packet in a file. It opens no shop.
func verifyPacket(r io.ReaderAt, size int64, o packetAgainst) (wire.Verified, error) {
	v, err := model.VerifyPacket(r, size, model.PacketQuery{Key: o.key, Against: o.against, Roots: o.roots})
	return wire.Verified{
		OK: err == nil && len(v.Problems) == 0, Lines: v.Lines, Records: v.Records, Originals: v.Originals, Checkpoints: v.Checkpoints,
		Withheld: v.Withheld, Rolls: v.Rolls, Size: v.Size, Root: v.Root, Problems: append([]string{}, v.Problems...), Said: v.Said,
	}, err
}

// backupTo writes a backup of the shop in a folder.
func backupTo(ctx context.Context, f folder, to, part string) (wire.Backup, error) {
	shop, err := openShop(ctx, f, logTo(f.debug, slog.LevelDebug))
	if err != nil {
		return wire.Backup{}, err
	}
	b, err := shop.Backup(ctx, to, part)
	return backedUp(b), errors.Join(err, shop.Close())
}

// checkBackup looks through a backup. It opens no shop.
func checkBackup(ctx context.Context, from, part string) (wire.Backup, error) {
	b, err := model.CheckBackup(ctx, from, part)
	return backedUp(b), err
}

// restoreFrom brings a backup back into a data folder.
func restoreFrom(ctx context.Context, f folder, from, confirm string) (wire.Backup, error) {
	r, err := model.RestoreShop(ctx, model.Restore{From: from, Dir: f.dir, Confirm: confirm, Originals: f.originals, Env: os.Getenv})
	done := backedUp(r.BackedUp)
	done.Before = r.Before
	return done, err
}

// moveTo brings the shop in a folder to another folder or to PostgreSQL.
func moveTo(ctx context.Context, f folder, to string) (wire.Moved, error) {
	m, err := model.MoveShop(ctx, model.Move{From: options(f, logTo(f.debug, slog.LevelDebug)), To: to, Originals: f.originals})
	return moved(m, err)
}

// moveOriginals brings the photos and papers of a shop into a bucket, or into its folder.
func moveOriginals(ctx context.Context, f folder) (wire.Moved, error) {
	to := f.originals
	if to == "folder" {
		to = ""
	}
	m, err := model.MoveOriginals(ctx, options(f, logTo(f.debug, slog.LevelDebug)), to)
	return moved(m, err)
}

func moved(m model.Moved, err error) (wire.Moved, error) {
	return wire.Moved{
		OK: err == nil && m.OK(), Shop: m.Shop, To: m.To, Lines: m.Lines, Root: m.Root, Rows: m.Rows, Originals: m.Photos, OriginalsIn: m.Originals,
		Copied: m.Copied, Problems: append([]string{}, m.Verified.Problems...), Said: append([]string{}, m.Verified.Said...),
	}, err
}

// examine looks at what the shop in a folder rests on.
func examine(ctx context.Context, f folder, certificate []byte) (wire.Doctored, error) {
	shop, err := openShop(ctx, f, logTo(f.debug, slog.LevelDebug))
	if err != nil {
		return wire.Doctored{}, err
	}
	d, err := shop.Doctor(ctx, model.By{Actor: model.Actor{Role: people.Manager, Via: people.ViaLocal}}, model.DoctorQuery{Certificate: certificate})
	out := wire.Doctored{OK: d.OK, Checkups: []wire.Checkup{}}
	for _, c := range d.Checkups {
		out.Checkups = append(out.Checkups, wire.Checkup{What: c.What, Health: string(c.Health), Says: c.Says, Do: c.Do})
	}
	return out, errors.Join(err, shop.Close())
}

func backedUp(b model.BackedUp) wire.Backup {
	return wire.Backup{
		OK: b.OK(), Shop: b.Shop, Taken: b.Taken, Lines: b.Lines, Root: b.Root, Originals: b.Photos, Bytes: b.Bytes, Copied: b.Copied,
		Problems: append([]string{}, b.Verified.Problems...), Said: b.Verified.Said,
	}
}

// packetFromCopies builds a packet from copies that were kept elsewhere. It opens no shop.
func packetFromCopies(ctx context.Context, files []copyFile, o packetOptions) (out madeFromCopies, err error) {
	in := model.FromCopy{Tools: o.tools, Claim: o.id, Add: o.Add, Key: o.key, Against: o.against, MaxPart: o.maxPart}
	var copies []model.CopyFile
	for _, f := range files {
		copies = append(copies, model.CopyFile{From: f.from, Size: f.size})
	}
	p, err := model.PacketFromCopies(ctx, copies, in)
	if err != nil {
		return out, err
	}
	st := p.Statement
	out = madeFromCopies{said: p.Said, write: map[string]func(io.Writer) error{}, close: p.Close,
		Packet: wire.Packet{Kind: string(st.Kind), Supplement: st.Supplement, Created: st.Created, Tools: len(st.Lines), Added: []string{}, Fingerprint: p.Fingerprint, Size: st.Size,
			Checkpoint: p.Note, Key: p.Key, Files: []string{}, Left: []wire.NotInPacket{}, Cautions: p.Cautions}}
	if o.id != "" {
		out.Claim = &o.id
	}
	for _, a := range st.Added {
		out.Added = append(out.Added, string(a))
	}
	for _, l := range p.Left {
		out.Left = append(out.Left, wire.NotInPacket(l))
	}
	for _, f := range p.Files {
		out.Files = append(out.Files, f.Name)
		out.write[f.Name] = func(w io.Writer) error { return f.Write(ctx, w) }
	}
	return out, nil
}

// matchCopy tells which tool of a copy a worn serial may be of. It opens no shop.
func matchCopy(ctx context.Context, r io.ReaderAt, size int64, q client.MatchQuery) (wire.Match, error) {
	v, err := model.MatchCopy(ctx, r, size, model.MatchQuery(q))
	return api.Match(v), err
}

// matchListCopy does so for a CSV of readings.
func matchListCopy(ctx context.Context, r io.ReaderAt, size int64, list io.Reader, found string) (wire.MatchList, error) {
	v, err := model.MatchListCopy(ctx, r, size, list, found)
	return api.MatchList(v), err
}

// buildDemo fills a new folder with the invented shop.
func buildDemo(ctx context.Context, f folder) (wrench string, tools int, err error) {
	clock := demo.NewClock()
	shop, err := model.Open(ctx, model.Options{Dir: f.dir, Database: f.database, Originals: f.originals, Env: os.Getenv, Program: "pawl demo", Clock: clock.Now, Chance: demo.NewChance("demo")})
	if err != nil {
		return "", 0, err
	}
	built, err := demo.Build(ctx, shop, clock)
	return built.Wrench, built.Tools, errors.Join(err, shop.Close())
}

// serving is a shop that is opened to be served.
type serving struct {
	shop *model.Shop
	dir  string
	log  *slog.Logger
}

func openServing(ctx context.Context, f folder, log *slog.Logger) (*serving, error) {
	shop, err := openShop(ctx, f, log)
	return &serving{shop, f.dir, log}, err
}

func (s *serving) close() error { return s.shop.Close() }

// mayBePlain refuses plain HTTP beyond this computer, unless the settings permit
// it.
func (s *serving) mayBePlain(ctx context.Context, listen string) error {
	set, err := s.shop.Settings(ctx)
	if err != nil || set.PlainHTTP {
		return err
	}
	return fault.New(fault.Refused, "plain HTTP is for this computer alone, and %s is beyond it", listen).
		WithHint("give --tls-cert and --tls-key; or, knowing that all of it can be read on the way: pawl settings --plain-http yes")
}

// firstLink makes the link of the first manager, and says until when it opens, on
// the shop's clock. It is empty where a manager is let in already.
func (s *serving) firstLink(ctx context.Context, reached string) (link, until string, err error) {
	e, err := s.shop.FirstManager(ctx)
	if fault.Is(err, fault.Conflict) {
		return "", "", nil
	}
	if err != nil {
		return "", "", err
	}
	set, err := s.shop.Settings(ctx)
	if err != nil {
		return "", "", err
	}
	loc, err := set.Location()
	if err != nil {
		return "", "", err
	}
	base := set.Address
	if base == "" {
		base = reached
	}
	return base + api.EnterPath + e.Secret, e.Expires.Time().In(loc).Format("15:04 MST"), nil
}

// run serves the shop on the listener until ctx ends, does what falls due at the
// start and every hour, and lets running acts finish. Where metrics listens, its figures
// are given. It closes the shop.
func (s *serving) run(ctx context.Context, listener net.Listener, at site, proxies []netip.Prefix, metrics net.Listener) error {
	noteListening(s.dir, at.reached, s.log)
	ctx, cancel := context.WithCancel(ctx)
	var beside sync.WaitGroup
	beside.Go(func() { doChores(ctx, s.shop, s.log) })
	var counted *api.Metrics
	if metrics != nil {
		counted = api.NewMetrics(s.shop, Version)
		beside.Go(func() {
			if err := counted.Serve(ctx, metrics, s.log); err != nil {
				s.log.Error("metrics", "error", err)
			}
		})
	}
	options := api.Options{Metrics: counted, Log: s.log, Version: Version, Address: at.reached, Proxies: proxies, Plain: at.plain}
	err := api.Serve(ctx, listener, api.New(s.shop, options), api.ServeOptions{Log: s.log})
	cancel()
	beside.Wait()
	if closing := s.shop.Close(); err == nil {
		err = closing
	}
	return err
}

// listeningFile holds where a server of the folder listened last: the links that
// a command beside it makes lead there, unless the settings know better.
const listeningFile = "listening"

func noteListening(dir, reached string, log *slog.Logger) {
	if err := os.WriteFile(filepath.Join(dir, listeningFile), []byte(reached+"\n"), 0o600); err != nil {
		log.Warn("cannot note where the server listens", "error", err)
	}
}

// lastListening is where a server of the folder listened last, else where one
// listens unless told otherwise.
func lastListening(dir string) string {
	text, err := os.ReadFile(filepath.Join(dir, listeningFile))
	if at, bad := url.Parse(strings.TrimSpace(string(text))); err == nil && bad == nil && at.Host != "" {
		return at.Scheme + "://" + at.Host
	}
	return "http://" + defaultListen
}

// choresAfter is how long a server serves before it does its first chores: whoever starts
// one waits for a page, and not for them.
const choresAfter = 10 * time.Second

// doChores does what falls due until ctx ends. A failure is for the log: the
// next hour tries again.
func doChores(ctx context.Context, shop *model.Shop, log *slog.Logger) {
	next := time.NewTimer(choresAfter)
	defer next.Stop()
	for first := true; ; first = false {
		select {
		case <-ctx.Done():
			return
		case <-next.C:
		}
		if first {
			if err := shop.ReadSerials(ctx); err != nil && ctx.Err() == nil {
				log.Error("reading the serials failed; whoever asks for a worn one waits for them", "error", err)
			}
		}
		by := model.By{Actor: model.Actor{Role: people.Manager, Via: people.ViaChores}}
		switch done, err := shop.Chores(ctx, by); {
		case ctx.Err() != nil:
			return
		case err != nil:
			log.Error("chores failed", "error", err)
		default:
			log.Info("chores done", "done", done)
		}
		next.Reset(time.Hour)
	}
}
