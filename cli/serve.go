package cli

import (
	"context"
	"crypto/tls"
	"fmt"
	"log/slog"
	"net"
	"net/netip"
	"os/signal"
	"strconv"
	"strings"
	"syscall"

	"github.com/urfave/cli/v2"

	"pawl/api/client"
	"pawl/model/fault"
)

// defaultListen is where a server listens unless told otherwise.
const defaultListen = "127.0.0.1:8080"

type serveOptions struct {
	folder
	listen    string
	metrics   string
	cert, key string
	proxies   []netip.Prefix
	color     bool
	level     slog.Level
}

func (p *program) serveCommand() *cli.Command {
	return &cli.Command{
		Name: "serve", Usage: "serve the shop in a folder of this computer",
		Description: `pawl serve --listen 127.0.0.1:8080
pawl serve --listen :8443 --tls-cert tools.crt --tls-key tools.key
pawl serve --listen 127.0.0.1:8080 --proxy 127.0.0.1
pawl serve --db postgres://pawl@db.example/pawl --originals s3://gull-lane/shop
pawl serve --listen :8443 --tls-cert tools.crt --tls-key tools.key --metrics 127.0.0.1:9464`,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "listen", Value: defaultListen, Usage: "at `HOST:PORT`; port 0 takes any free one"},
			value("tls-cert", "certificate chain in `FILE` (PEM), for HTTPS"),
			value("tls-key", "its private key in `FILE` (PEM)"),
			value("proxy", "believe the reverse proxy at `ADDR`, an address or a network such as 172.17.0.0/16, and nobody else, who asks and how"),
			value("metrics", "give figures for Prometheus at `HOST:PORT`, under /metrics, to whoever reaches it: counts and times, of nobody and no tool"),
			value("check", "only ask the Pawl at `URL` whether it can serve"),
		},
		Action: func(c *cli.Context) error {
			if at := c.String("check"); at != "" {
				return client.New(at, nil, "").Ready(c.Context)
			}
			o, err := p.parseServe(c)
			if err != nil {
				return err
			}
			return p.runServe(c.Context, o)
		},
	}
}

func (p *program) parseServe(c *cli.Context) (o serveOptions, err error) {
	if err := localOnly(c); err != nil {
		return o, err
	}
	if err := noOperands(c); err != nil {
		return o, err
	}
	if c.String("as") != "" {
		return o, fault.New(fault.Malformed, "--as is for one command; a server asks everybody who they are").WithHint("leave it out")
	}
	o = serveOptions{listen: c.String("listen"), metrics: c.String("metrics"), cert: c.String("tls-cert"), key: c.String("tls-key"), color: colored(c)}
	if (o.cert == "") != (o.key == "") {
		return o, fault.New(fault.Malformed, "--tls-cert and --tls-key go together").WithHint("give both, or none for plain HTTP on this computer")
	}
	if c.IsSet("proxy") {
		if o.proxies, err = networkOf(c.String("proxy")); err != nil {
			return o, err
		}
	}
	o.level = slog.LevelWarn
	if c.Bool("debug") {
		o.level = slog.LevelDebug
	}
	o.folder, err = p.folder(c)
	return o, err
}

// networkOf reads an address, or a network in CIDR notation (RFC 4632 section
// 3.1).
func networkOf(text string) ([]netip.Prefix, error) {
	if at, err := netip.ParseAddr(text); err == nil {
		return []netip.Prefix{netip.PrefixFrom(at.Unmap(), at.Unmap().BitLen())}, nil
	}
	network, err := netip.ParsePrefix(text)
	if err != nil {
		return nil, fault.New(fault.Malformed, "--proxy %q is no address", text).WithHint("such as 127.0.0.1 or 172.17.0.0/16")
	}
	return []netip.Prefix{network.Masked()}, nil
}

// runServe serves until SIGINT or SIGTERM, which both end it well.
func (p *program) runServe(ctx context.Context, o serveOptions) error {
	ctx, stop := signal.NotifyContext(ctx, syscall.SIGTERM)
	defer stop()
	shop, err := openServing(ctx, o.folder, logTo(p.err, o.level))
	if err != nil {
		return err
	}
	listener, at, err := o.open(ctx, shop)
	if err != nil {
		shop.close()
		return err
	}
	metrics, err := o.openMetrics()
	if err != nil {
		listener.Close()
		shop.close()
		return err
	}
	if metrics != nil {
		fmt.Fprintln(p.err, "metrics on http://"+metrics.Addr().String()+"/metrics")
	}
	if at.plain {
		fmt.Fprintln(p.err, "warning: plain HTTP: anyone on the way can read and change everything")
	}
	fmt.Fprintln(p.err, "listening on "+at.listening)
	if err := p.firstManager(ctx, shop, at.reached, o.color); err != nil {
		listener.Close()
		if metrics != nil {
			metrics.Close()
		}
		shop.close()
		return err
	}
	return shop.run(ctx, listener, at, o.proxies, metrics)
}

// openMetrics listens where figures are asked for; nil where nobody wants them.
func (o serveOptions) openMetrics() (net.Listener, error) {
	if o.metrics == "" {
		return nil, nil
	}
	at, err := net.ResolveTCPAddr("tcp", o.metrics)
	if err != nil {
		return nil, fault.New(fault.Malformed, "--metrics %q is no address: %v", o.metrics, err).WithHint("such as 127.0.0.1:9464")
	}
	listener, err := net.ListenTCP("tcp", at)
	if err != nil {
		return nil, fault.New(fault.Unavailable, "cannot listen on %s: %v", o.metrics, err).WithHint("stop what listens there, or choose another port; 0 takes any free one")
	}
	return listener, nil
}

// firstManager prints the link that makes the first manager, unless one is let
// in already.
func (p *program) firstManager(ctx context.Context, shop *serving, reached string, color bool) error {
	link, until, err := shop.firstLink(ctx, reached)
	if err != nil || link == "" {
		return err
	}
	code, err := qrText(link, color && isTerminal(p.err))
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(p.err, "no manager is let in yet: whoever opens this link first, until %s, is one\n%s\n%s\n", until, link, code)
	return err
}

// site is where a server listens.
type site struct {
	listening string // as it is: http://0.0.0.0:8080
	reached   string // as a phone reaches it, as far as that can be told from here
	plain     bool   // beyond this computer, without a certificate
}

// open listens, and says where. Plain HTTP is for this computer alone, unless
// the shop's settings say otherwise.
func (o serveOptions) open(ctx context.Context, shop *serving) (net.Listener, site, error) {
	at, err := net.ResolveTCPAddr("tcp", o.listen)
	if err != nil {
		return nil, site{}, fault.New(fault.Malformed, "--listen %q is no address: %v", o.listen, err).WithHint("such as 127.0.0.1:8080")
	}
	plain := o.cert == "" && !at.IP.IsLoopback()
	if plain {
		if err := shop.mayBePlain(ctx, o.listen); err != nil {
			return nil, site{}, err
		}
	}
	var config *tls.Config
	if o.cert != "" {
		pair, err := tls.LoadX509KeyPair(o.cert, o.key)
		if err != nil {
			return nil, site{}, fault.New(fault.Malformed, "cannot use --tls-cert %s with --tls-key %s: %v", o.cert, o.key, reason(err)).WithHint("give two PEM files that belong together")
		}
		config = &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12, NextProtos: []string{"h2", "http/1.1"}}
	}
	listener, err := net.ListenTCP("tcp", at)
	if err != nil {
		return nil, site{}, fault.New(fault.Unavailable, "cannot listen on %s: %v", o.listen, err).WithHint("stop what listens there, or choose another port; 0 takes any free one")
	}
	is := siteOf(listener.Addr().(*net.TCPAddr), config)
	is.plain = plain
	if config != nil {
		return tls.NewListener(listener, config), is, nil
	}
	return listener, is, nil
}

// siteOf says where a listener is. A phone must know the name in the
// certificate, and an address that is not every one.
func siteOf(at *net.TCPAddr, config *tls.Config) site {
	scheme, host := "http://", at.IP.String()
	if at.IP.IsUnspecified() {
		host = ownAddress()
	}
	if config != nil {
		scheme = "https://"
		if leaf := config.Certificates[0].Leaf; leaf != nil && len(leaf.DNSNames) > 0 && !strings.HasPrefix(leaf.DNSNames[0], "*") {
			host = leaf.DNSNames[0]
		}
	}
	return site{listening: scheme + at.String(), reached: scheme + net.JoinHostPort(host, strconv.Itoa(at.Port))}
}

// ownAddress is an address of this computer in its own network, or localhost.
func ownAddress() string {
	all, err := net.InterfaceAddrs()
	if err != nil {
		return "localhost"
	}
	for _, a := range all {
		if network, ok := a.(*net.IPNet); ok && network.IP.IsPrivate() && network.IP.To4() != nil {
			return network.IP.String()
		}
	}
	return "localhost"
}
