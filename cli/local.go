package cli

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net"
	"os"
	"time"

	"pawl/api"
	"pawl/api/client"
	"pawl/api/wire"
	"pawl/model"
	"pawl/model/demo"
	"pawl/model/people"
)

// This file alone knows the shop: all others ask the API.

// openShop opens the shop in a folder, and makes one where there is none if the
// command may begin one.
func openShop(ctx context.Context, f folder, log *slog.Logger) (*model.Shop, error) {
	return model.Open(ctx, model.Options{Dir: f.dir, Database: f.database, Existing: !f.begins, Program: "pawl", Log: log, HEICConverter: os.Getenv("PAWL_HEIC_CONVERTER")})
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
	transport := client.InProcess{Handler: api.New(shop, api.Options{Log: log, Version: Version}), Actor: actor}
	return client.New("", transport, ""), shop, nil
}

func logTo(w io.Writer, least slog.Level) *slog.Logger {
	if w == nil {
		return slog.New(slog.DiscardHandler)
	}
	return slog.New(slog.NewTextHandler(w, &slog.HandlerOptions{Level: least}))
}

// verifyCopy checks a copy of tools in a file. It opens no shop.
func verifyCopy(r io.ReaderAt, size int64, key string, against []string) (wire.Verified, error) {
	v, err := model.VerifyCopy(r, size, model.CopyQuery{Key: key, Against: against})
	return wire.Verified{
		OK: err == nil && len(v.Problems) == 0, Lines: v.Lines, Records: v.Records, Originals: v.Originals, Checkpoints: v.Checkpoints,
		Withheld: v.Withheld, Size: v.Size, Root: v.Root, Problems: append([]string{}, v.Problems...), Said: v.Said,
	}, err
}

// buildDemo fills a new folder with the invented shop.
func buildDemo(ctx context.Context, f folder) (wrench string, tools int, err error) {
	clock := demo.NewClock()
	shop, err := model.Open(ctx, model.Options{Dir: f.dir, Database: f.database, Program: "pawl demo", Clock: clock.Now, Chance: demo.NewChance("demo")})
	if err != nil {
		return "", 0, err
	}
	built, err := demo.Build(ctx, shop, clock)
	return built.Wrench, built.Tools, errors.Join(err, shop.Close())
}

// serveShop serves the shop in a folder on the listener until ctx ends, does
// what falls due at the start and every hour, and lets running acts finish. It
// calls ready when the shop is open.
func serveShop(ctx context.Context, f folder, listener net.Listener, log *slog.Logger, ready func()) error {
	shop, err := openShop(ctx, f, log)
	if err != nil {
		listener.Close()
		return err
	}
	ready()
	ctx, cancel := context.WithCancel(ctx)
	chores := make(chan struct{})
	go func() {
		defer close(chores)
		doChores(ctx, shop, log)
	}()
	err = api.Serve(ctx, listener, api.New(shop, api.Options{Log: log, Version: Version}), api.ServeOptions{Log: log})
	cancel()
	<-chores
	if closing := shop.Close(); err == nil {
		err = closing
	}
	return err
}

// doChores does what falls due until ctx ends. A failure is for the log: the
// next hour tries again.
func doChores(ctx context.Context, shop *model.Shop, log *slog.Logger) {
	hourly := time.NewTicker(time.Hour)
	defer hourly.Stop()
	for {
		by := model.By{Actor: model.Actor{Role: people.Manager, Via: people.ViaChores}}
		switch done, err := shop.Chores(ctx, by); {
		case ctx.Err() != nil:
			return
		case err != nil:
			log.Error("chores failed", "error", err)
		default:
			log.Info("chores done", "done", done)
		}
		select {
		case <-ctx.Done():
			return
		case <-hourly.C:
		}
	}
}
