package main

import (
	"bytes"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"sync/atomic"
	"time"

	"pawl/model"
	"pawl/model/claims"
	"pawl/model/dates"
	"pawl/model/evidence"
	"pawl/model/internal/originals"
	"pawl/model/internal/store"
)

// What an annex holds here: tools with three originals each, of three megabytes.
const (
	annexTools = 200
	each       = 3
	original   = 3_000_000
)

// annexRow is the annex of a claim beside hashing and copying the same bytes.
func annexRow(ctx context.Context, work string, p *place) ([]measured, error) {
	var sums []string
	err := p.reopen(ctx, func() (err error) { sums, err = robbed(ctx, p.dir); return err })
	if err != nil {
		return nil, err
	}
	v, err := p.shop.BuildPacket(ctx, atComputer, model.NewPacket{Claim: "C-1"})
	if err != nil {
		return nil, err
	}
	f, err := p.shop.PacketFile(ctx, atComputer, v.ID, model.AnnexFile, 0)
	if err != nil {
		return nil, err
	}
	kept, err := originals.Open(filepath.Join(p.dir, "originals"))
	if err != nil {
		return nil, err
	}
	bare := func() error {
		return into(filepath.Join(work, "bare"), func(out io.Writer) error { return hashedCopy(kept, sums, out) })
	}
	annex := func() error {
		return into(filepath.Join(work, "annex"), func(out io.Writer) error { return f.Write(ctx, out) })
	}
	peak := watchMemory()
	var ours, limit times
	for range 3 {
		for i, do := range []func() error{bare, annex} {
			d, err := took(do)
			if err != nil {
				return nil, err
			}
			if i == 0 {
				limit = append(limit, d)
			} else {
				ours = append(ours, d)
			}
		}
	}
	return []measured{{what: fmt.Sprintf("annex of %d tools with %d originals", annexTools, len(sums)), more: fmt.Sprintf(", %d MB of memory at most", peak()>>20),
		limit: "hashing and copying the same bytes", ours: ours.at(50), least: limit.at(50), goal: 1.67}}, nil
}

// robbed records the theft of the first tools of a shop, with their originals, whose
// hashes it gives.
func robbed(ctx context.Context, dir string) (sums []string, err error) {
	db, err := store.Open(ctx, store.Config{Dir: dir, Existing: true, Program: "bench", Clock: now, Chance: rand.Reader})
	if err != nil {
		return nil, err
	}
	defer db.Close()
	kept, err := originals.Open(filepath.Join(dir, "originals"))
	if err != nil {
		return nil, err
	}
	at, raw := dates.InstantOf(now()), make([]byte, original)
	var lines []claims.LossLine
	var papers []evidence.Record
	for i := range annexTools {
		tool := fmt.Sprintf("T-%08d", i)
		lines = append(lines, claims.LossLine{ID: fmt.Sprintf("Y-%04d", i), Loss: "L-1", Tool: tool, Line: int64(i + 1), Supplement: 1})
		for j := range each {
			noise(raw, uint64(i*each+j))
			row := evidence.Record{ID: fmt.Sprintf("E-%04d-%d", i, j), Tool: tool, Kind: evidence.Receipt, MediaType: evidence.TypePDF, Bytes: original, ReceivedAt: at}
			if j == 0 {
				photoOf(raw)
				row.Kind, row.MediaType, row.ClaimedPlace = evidence.Plate, evidence.TypeJPEG, "29.3, -94.8" // a place is left out of an annex
			}
			sum := sha256.Sum256(raw)
			row.SHA256 = hex.EncodeToString(sum[:])
			if _, _, err := kept.Put(ctx, row.SHA256, bytes.NewReader(raw), evidence.MaxBytes); err != nil {
				return nil, err
			}
			papers, sums = append(papers, row), append(sums, row.SHA256)
		}
	}
	_, err = store.Write(ctx, db, store.Act{Verb: "bench", Actor: "shop via local"}, func(tx *store.Tx) (bool, error) {
		loss := &claims.Loss{ID: "L-1", Kind: claims.Theft, Found: at, Started: at}
		if err := store.Put(tx, loss); err != nil {
			return false, err
		}
		if err := store.Put(tx, &claims.Claim{ID: "C-1", Kind: claims.Insurance, Loss: loss.ID, Opened: at}); err != nil {
			return false, err
		}
		if err := store.PutNew(tx, append([]claims.LossLine{}, lines...)); err != nil { // it may run again
			return false, err
		}
		return true, store.PutNew(tx, append([]evidence.Record{}, papers...))
	})
	return sums, err
}

// noise fills bytes so that nothing packs them, other ones for each seed: a linear
// congruential generator, modulo 2^64 (D. E. Knuth's MMIX, from memory).
func noise(raw []byte, seed uint64) {
	x := seed + 1
	for i := range raw {
		x = x*6364136223846793005 + 1442695040888963407
		raw[i] = byte(x >> 56)
	}
}

// photoOf makes of noise what a JPEG is to whoever copies it: segments, and coded data in
// which 0xff is followed by 0 (ITU-T T.81 B.1.1.5).
func photoOf(raw []byte) {
	for i := range raw {
		if raw[i] == 0xff {
			raw[i] = 0xfe
		}
	}
	for i := 40; i+1 < len(raw); i += 256 {
		raw[i], raw[i+1] = 0xff, 0
	}
	copy(raw, []byte{0xff, 0xd8, 0xff, 0xe1, 0, 16})
	binary.BigEndian.PutUint16(raw[20:], 0xffda)
	binary.BigEndian.PutUint16(raw[22:], 8)
	copy(raw[len(raw)-2:], []byte{0xff, 0xd9})
}

// hashedCopy writes originals one after the other, hashing each.
func hashedCopy(kept *originals.Folder, sums []string, out io.Writer) error {
	for _, sum := range sums {
		in, _, err := kept.Open(sum)
		if err != nil {
			return err
		}
		hash := sha256.New()
		if _, err := io.Copy(io.MultiWriter(out, hash), in); err != nil {
			return err
		}
		if err := in.Close(); err != nil {
			return err
		}
		if hex.EncodeToString(hash.Sum(nil)) != sum {
			return fmt.Errorf("original %s is another", sum)
		}
	}
	return nil
}

func into(path string, write func(io.Writer) error) error {
	out, err := os.Create(path)
	if err != nil {
		return err
	}
	defer out.Close()
	return write(out)
}

// watchMemory notes the most memory that is held of the system's until it is asked for it,
// beyond what is held now.
func watchMemory() (peak func() uint64) {
	held := func() uint64 {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.Sys - m.HeapReleased
	}
	runtime.GC()
	before, stop, stopped := held(), make(chan struct{}), make(chan struct{})
	var most atomic.Uint64
	most.Store(before)
	go func() {
		defer close(stopped)
		tick := time.NewTicker(20 * time.Millisecond)
		defer tick.Stop()
		for {
			most.Store(max(most.Load(), held()))
			select {
			case <-stop:
				return
			case <-tick.C:
			}
		}
	}()
	return func() uint64 {
		close(stop)
		<-stopped
		return most.Load() - before
	}
}
