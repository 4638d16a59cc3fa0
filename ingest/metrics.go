package ingest

import (
	"maps"
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

var (
	descReceived   = wayDesc("received", "Readings and unreadable payloads taken in and settled; always stored plus duplicate plus set aside.")
	descStored     = wayDesc("stored", "Readings written to the store.")
	descDuplicate  = wayDesc("duplicate", "Readings that the store had already.")
	descSetAside   = wayDesc("set_aside", "Payloads that could not be read, kept with the reason.")
	descQueue      = ingestDesc("queue_length", "Deliveries that wait for the committer.")
	descOldest     = ingestDesc("oldest_unsettled_seconds", "Age of the batch that the committer has in hand, 0 for none.")
	descLastCommit = ingestDesc("last_commit_timestamp_seconds", "When the last commit ended, 0 for never.")
	descFailures   = ingestDesc("append_failures_total", "Appends that the store refused.")
	descFailing    = ingestDesc("failing", "1 while the store takes nothing.")
	descClock      = prometheus.NewDesc("weighbeam_source_clock_offset_seconds",
		"How far the clock of a device runs ahead of the house, least in the last hour; negative behind.", []string{"source"}, nil)
	descCommit = ingestDesc("commit_duration_seconds", "How long commits took.")
)

func wayDesc(name, help string) *prometheus.Desc {
	return prometheus.NewDesc("weighbeam_readings_"+name+"_total", help, []string{"way"}, nil)
}

func ingestDesc(name, help string) *prometheus.Desc {
	return prometheus.NewDesc("weighbeam_ingest_"+name, help, nil, nil)
}

// Describe is part of prometheus.Collector.
func (a *Appender) Describe(ch chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{descReceived, descStored, descDuplicate, descSetAside,
		descQueue, descOldest, descLastCommit, descFailures, descFailing, descClock, descCommit} {
		ch <- d
	}
}

// Collect is part of prometheus.Collector. The counts are of one moment.
func (a *Appender) Collect(ch chan<- prometheus.Metric) {
	for way, c := range a.Counts() {
		for desc, n := range map[*prometheus.Desc]int64{
			descReceived: c.Received, descStored: c.Stored, descDuplicate: c.Duplicate, descSetAside: c.SetAside,
		} {
			ch <- prometheus.MustNewConstMetric(desc, prometheus.CounterValue, float64(n), way)
		}
	}
	for _, c := range a.Clocks() {
		if c.Verdict != ClockNone && c.Verdict != ClockUnset {
			ch <- prometheus.MustNewConstMetric(descClock, prometheus.GaugeValue, c.Offset.Seconds(), c.Source)
		}
	}
	h := a.Health()
	gauge := func(d *prometheus.Desc, v float64) {
		ch <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, v)
	}
	gauge(descQueue, float64(h.Queue))
	gauge(descOldest, h.Oldest.Seconds())
	gauge(descFailing, truth(h.Failing != ""))
	gauge(descLastCommit, unixOr0(h.LastCommit))
	ch <- prometheus.MustNewConstMetric(descFailures, prometheus.CounterValue, float64(h.Failures))
	ch <- a.commitHistogram()
}

func (a *Appender) commitHistogram() prometheus.Metric {
	a.stats.mu.Lock()
	defer a.stats.mu.Unlock()
	c := a.stats.commits
	return prometheus.MustNewConstHistogram(descCommit, c.n, c.sum, maps.Clone(c.counts))
}

// unixOr0 is t in seconds since 1970, 0 for the zero time.
func unixOr0(t time.Time) float64 {
	if t.IsZero() {
		return 0
	}
	return float64(t.UnixMilli()) / 1e3
}

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
