package app

import (
	"context"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
)

// metrics is the registry behind /metrics, without what starts after the pages.
func (a *App) metrics() *prometheus.Registry {
	reg := prometheus.NewRegistry()
	reg.MustRegister(a.appender, houseCollector{a},
		collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	if a.mirror != nil {
		reg.MustRegister(a.mirror)
	}
	return reg
}

// houseCollector reads, when scraped, what is not counted while it happens.
type houseCollector struct{ a *App }

var (
	descBehind = prometheus.NewDesc("weighbeam_stage_behind", "Journal entries or deliveries that a stage has still to deal with.", []string{"stage"}, nil)
	descWell   = prometheus.NewDesc("weighbeam_stage_well", "1 where a stage is well, 0 where it is not.", []string{"stage"}, nil)
	descOpen   = prometheus.NewDesc("weighbeam_findings_open", "Findings that stand.", []string{"subject", "sign", "urgency"}, nil)
	descSize   = prometheus.NewDesc("weighbeam_store_bytes", "Size of the store with its write-ahead log.", nil, nil)
	descHeard  = prometheus.NewDesc("weighbeam_source_last_reading_timestamp_seconds", "Time of the newest reading of a source.", []string{"source"}, nil)
	descEchoes = prometheus.NewDesc("weighbeam_notices_heard_total", "Messages on the topics of notices: they are no readings, and let go.", nil, nil)
	descNotice = prometheus.NewDesc("weighbeam_notices", "Notices by where they stand.", []string{"channel", "state"}, nil)
)

func (c houseCollector) Describe(ch chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{descBehind, descWell, descOpen, descSize, descHeard, descNotice, descEchoes} {
		ch <- d
	}
}

func (c houseCollector) Collect(ch chan<- prometheus.Metric) {
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	gauge := func(d *prometheus.Desc, v float64, labels ...string) {
		ch <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, v, labels...)
	}
	for _, s := range c.a.Stages(ctx) {
		gauge(descBehind, float64(s.Behind), s.Name)
		well := 0.0
		if s.Well {
			well = 1
		}
		gauge(descWell, well, s.Name)
	}
	if err := c.house(ctx, gauge); err != nil {
		ch <- prometheus.NewInvalidMetric(descOpen, err)
	}
	gauge(descSize, float64(c.a.store.Bytes()))
	ch <- prometheus.MustNewConstMetric(descEchoes, prometheus.CounterValue, float64(c.a.echoes.Load()))
}

func (c houseCollector) house(ctx context.Context, gauge func(*prometheus.Desc, float64, ...string)) error {
	open, err := c.a.store.Findings(ctx, true, time.Time{})
	if err != nil {
		return err
	}
	for _, f := range open {
		gauge(descOpen, 1, f.Subject(), string(f.Sign), string(f.Urgency))
	}
	sources, err := c.a.store.Sources(ctx)
	if err != nil {
		return err
	}
	for _, s := range sources {
		gauge(descHeard, float64(s.Last.UnixMicro())/1e6, s.Source)
	}
	counts, err := c.a.store.CountNotices(ctx)
	if err != nil {
		return err
	}
	for k, n := range counts {
		gauge(descNotice, float64(n), k.Channel, string(k.State))
	}
	return nil
}
