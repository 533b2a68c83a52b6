package api

import (
	"cmp"
	"context"
	"log/slog"
	"net"
	"net/http"
	"strconv"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"pawl/model"
	"pawl/model/dates"
	"pawl/model/fault"
)

// MetricsPath is where Metrics are read, at an address of their own.
const MetricsPath = "/metrics"

// Metrics counts what a server does, for Prometheus to read. They have an address of
// their own, for which somebody decides (OWASP ASVS 5.0, 13.4.5), and which answers
// while the shop's is crowded. No label has a value that an asker chooses: a route is
// named as the router has it, a method that is none of ours is "other".
type Metrics struct {
	registry *prometheus.Registry
	took     *prometheus.HistogramVec
	running  prometheus.Gauge
	away     *prometheus.CounterVec
}

// NewMetrics counts for a server of that shop, in that version of the program.
func NewMetrics(shop *model.Shop, version string) *Metrics {
	m := &Metrics{
		registry: prometheus.NewRegistry(),
		took: prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: "pawl_http_request_duration_seconds", Help: "Time from a request to the end of its answer.",
			Buckets: []float64{.001, .0025, .005, .01, .025, .05, .1, .25, .5, 1, 2.5, 10, 30}}, []string{"method", "route", "status"}),
		running: prometheus.NewGauge(prometheus.GaugeOpts{Name: "pawl_http_requests_running", Help: "Requests that are being answered."}),
		away:    prometheus.NewCounterVec(prometheus.CounterOpts{Name: "pawl_http_requests_turned_away_total", Help: "Requests that were not looked at: too many at once, or the server was stopping."}, []string{"why"}),
	}
	build := prometheus.NewGauge(prometheus.GaugeOpts{Name: "pawl_build_info", Help: "Always 1; the label says which program.", ConstLabels: prometheus.Labels{"version": version}})
	build.Set(1)
	m.registry.MustRegister(m.took, m.running, m.away, build, collectors.NewGoCollector(),
		collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}), vitals{shop})
	return m
}

// begin and seen note one exchange; both do nothing on nil.
func (m *Metrics) begin() {
	if m != nil {
		m.running.Inc()
	}
}

func (m *Metrics) seen(method, route string, status int, took time.Duration) {
	if m == nil {
		return
	}
	m.running.Dec()
	m.took.WithLabelValues(method, cmp.Or(route, "none"), strconv.Itoa(status)).Observe(took.Seconds())
}

// turnedAway notes one that was not looked at.
func (m *Metrics) turnedAway(why string) {
	if m != nil {
		m.away.WithLabelValues(why).Inc()
	}
}

// Serve answers at a listener until ctx ends. What it says is the same for everybody.
func (m *Metrics) Serve(ctx context.Context, listener net.Listener, log *slog.Logger) error {
	mux := http.NewServeMux()
	mux.Handle("GET "+MetricsPath, m.handler(log))
	server := &http.Server{Handler: mux, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 10 * time.Second, WriteTimeout: 30 * time.Second,
		IdleTimeout: 120 * time.Second, MaxHeaderBytes: 16 << 10, ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelWarn)}
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(listener) }()
	select {
	case err := <-failed:
		return fault.New(fault.Unavailable, "cannot go on answering at %s", listener.Addr()).WithCause(err)
	case <-ctx.Done():
		return server.Close()
	}
}

// handler gives the figures as text (Prometheus exposition format 0.0.4). One that
// cannot be had is left out, and the others are given.
func (m *Metrics) handler(log *slog.Logger) http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{ErrorHandling: promhttp.ContinueOnError, MaxRequestsInFlight: 4,
		ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelError)})
}

// vitals asks the shop for its figures at each look.
type vitals struct{ shop *model.Shop }

var (
	linesDesc      = vitalDesc("ledger_lines", "Lines of the ledger.")
	freeDesc       = vitalDesc("disk_free_bytes", "Free space of the disk on which the data folder is.")
	checkpointDesc = vitalDesc("last_checkpoint_timestamp_seconds", "When the last checkpoint was made.")
	backupDesc     = vitalDesc("last_backup_timestamp_seconds", "When the last backup was made, as far as is known.")
	elsewhereDesc  = vitalDesc("last_copy_elsewhere_timestamp_seconds", "When the last copy to be kept elsewhere was made.")
	doubtfulDesc   = vitalDesc("clock_doubtful", "1 while the clock stands before a time that is recorded, else 0.")
)

func vitalDesc(name, help string) *prometheus.Desc {
	return prometheus.NewDesc("pawl_"+name, help, nil, nil)
}

func (v vitals) Describe(to chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{linesDesc, freeDesc, checkpointDesc, backupDesc, elsewhereDesc, doubtfulDesc} {
		to <- d
	}
}

// Collect leaves out what was never done, so that nobody takes it for done in 1970.
func (v vitals) Collect(to chan<- prometheus.Metric) {
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	now, err := v.shop.Vitals(ctx)
	if err != nil {
		to <- prometheus.NewInvalidMetric(linesDesc, err)
		return
	}
	gauge := func(d *prometheus.Desc, value float64) {
		to <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, value)
	}
	doubtful := 0.0
	if now.Doubtful {
		doubtful = 1
	}
	gauge(linesDesc, float64(now.Lines))
	gauge(doubtfulDesc, doubtful)
	if now.Free >= 0 {
		gauge(freeDesc, float64(now.Free))
	}
	for d, at := range map[*prometheus.Desc]dates.Instant{checkpointDesc: now.Checkpoint, backupDesc: now.Backup, elsewhereDesc: now.Elsewhere} {
		if at != 0 {
			gauge(d, float64(at)/1e6)
		}
	}
}
