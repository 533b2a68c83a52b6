package cli

import (
	"context"
	"crypto/tls"
	"fmt"
	"log/slog"
	"net"
	"os/signal"
	"syscall"

	"github.com/urfave/cli/v2"

	"pawl/api/client"
	"pawl/model/fault"
)

type serveOptions struct {
	folder
	listen    string
	cert, key string
	insecure  bool
	level     slog.Level
}

func (p *program) serveCommand() *cli.Command {
	return &cli.Command{
		Name: "serve", Usage: "serve the shop in a folder of this computer",
		Description: `pawl serve --listen 127.0.0.1:8080
pawl serve --listen :8443 --cert tools.crt --key tools.key`,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "listen", Value: "127.0.0.1:8080", Usage: "at `HOST:PORT`; port 0 takes any free one"},
			value("cert", "certificate chain in `FILE` (PEM), for HTTPS"),
			value("key", "its private key in `FILE` (PEM)"),
			value("check", "only ask the Pawl at `URL` whether it can serve"),
			yes("insecure-http", "plain HTTP beyond this computer: anyone on the way can read and change everything"),
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
	o = serveOptions{listen: c.String("listen"), cert: c.String("cert"), key: c.String("key"), insecure: c.Bool("insecure-http")}
	if (o.cert == "") != (o.key == "") {
		return o, fault.New(fault.Malformed, "--cert and --key go together").WithHint("give both, or none for plain HTTP on this computer")
	}
	o.level = slog.LevelWarn
	if c.Bool("debug") {
		o.level = slog.LevelDebug
	}
	o.folder, err = p.folder(c)
	return o, err
}

// runServe serves until SIGINT or SIGTERM, which both end it well.
func (p *program) runServe(ctx context.Context, o serveOptions) error {
	ctx, stop := signal.NotifyContext(ctx, syscall.SIGTERM)
	defer stop()
	listener, address, err := o.open()
	if err != nil {
		return err
	}
	if o.insecure && o.cert == "" {
		fmt.Fprintln(p.err, "warning: plain HTTP: anyone on the way can read and change everything")
	}
	ready := func() { fmt.Fprintln(p.err, "listening on "+address) }
	return serveShop(ctx, o.folder, listener, logTo(p.err, o.level), ready)
}

// open listens, and says where. Plain HTTP is for this computer alone, unless
// the one who starts it says otherwise.
func (o serveOptions) open() (net.Listener, string, error) {
	at, err := net.ResolveTCPAddr("tcp", o.listen)
	if err != nil {
		return nil, "", fault.New(fault.Malformed, "--listen %q is no address: %v", o.listen, err).WithHint("such as 127.0.0.1:8080")
	}
	if o.cert == "" && !o.insecure && !at.IP.IsLoopback() {
		return nil, "", fault.New(fault.Refused, "plain HTTP is for this computer alone, and %s is beyond it", o.listen).
			WithHint("give --cert and --key; or, knowing that all of it can be read on the way, --insecure-http")
	}
	scheme, config := "http", (*tls.Config)(nil)
	if o.cert != "" {
		pair, err := tls.LoadX509KeyPair(o.cert, o.key)
		if err != nil {
			return nil, "", fault.New(fault.Malformed, "cannot use --cert %s with --key %s: %v", o.cert, o.key, reason(err)).WithHint("give two PEM files that belong together")
		}
		scheme, config = "https", &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12, NextProtos: []string{"h2", "http/1.1"}}
	}
	listener, err := net.ListenTCP("tcp", at)
	if err != nil {
		return nil, "", fault.New(fault.Unavailable, "cannot listen on %s: %v", o.listen, err).WithHint("stop what listens there, or choose another port; 0 takes any free one")
	}
	address := scheme + "://" + listener.Addr().String()
	if config != nil {
		return tls.NewListener(listener, config), address, nil
	}
	return listener, address, nil
}
