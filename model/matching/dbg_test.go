package matching

import (
	"fmt"
	"math/rand/v2"
	"os"
	"runtime"
	"runtime/pprof"
	"slices"
	"syscall"
	"testing"
	"time"
)

func cpu() time.Duration {
	var u syscall.Rusage
	syscall.Getrusage(1, &u)
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
func TestDbg(t *testing.T) {
	n := 1000000
	fmt.Sscan(os.Getenv("N"), &n)
	b0 := time.Now()
	ix, some := many(n)
	fmt.Println("built", time.Since(b0))
	c, r := newTrueChannel(), rand.New(rand.NewPCG(8, 6))
	Debug = os.Getenv("V") != ""
	runtime.LockOSThread(); runtime.GC()
	var all []float64
	var f *os.File
	if os.Getenv("PROF") != "" {
		f, _ = os.Create(os.Getenv("PROF"))
		defer f.Close()
	}
	for i := range 40 {
		s := some[r.IntN(len(some))]
		if i%5 == 0 {
			s = stranger(r)
		}
		q := Query{Reading: read(t, c.damage(r, s, i%4).text), None: 0.2}
		from := cpu()
		one := 0
		if scan(ix.Bytes()) == 0 {
			t.Fatal()
		}
		d := cpu() - from
		if i == 1 && f != nil {
			pprof.StartCPUProfile(f)
		}
		from = cpu()
		a := answered(t, ix, q, 10)
		e := cpu() - from
		_ = one
		all = append(all, float64(e)/1e6)
		fmt.Println(i, q.Reading, s, "scan", d, "answer", e, a.Worked, "x", float64(e)/float64(d), "p", first(a).Posterior, a.None)
	}
	slices.Sort(all)
	fmt.Println("CPU ms p50", all[len(all)/2], "p90", all[len(all)*9/10], "max", all[len(all)-1])
	if f != nil {
		pprof.StopCPUProfile()
	}
}
