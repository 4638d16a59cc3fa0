package mirror

import (
	"time"

	"github.com/prometheus/client_golang/prometheus"
)

// counted is what the mirror did since it was made.
type counted struct {
	points, refused, failures int64
	level                     time.Time // when it last had everything; zero for not yet
}

func (m *Mirror) wrote(points int) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.counted.points += int64(points)
}

// count notes how a round ended.
func (m *Mirror) count(more bool, err error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	switch {
	case err != nil:
		m.counted.failures++
	case !more:
		m.counted.level = time.Now()
	}
}

var (
	descPoints   = prometheus.NewDesc("weighbeam_mirror_points_total", "Points that the engine took, those written again included.", nil, nil)
	descRefused  = prometheus.NewDesc("weighbeam_mirror_refused_points_total", "Points that the engine will never take, as what is older than its bucket keeps.", nil, nil)
	descFailures = prometheus.NewDesc("weighbeam_mirror_failures_total", "Rounds that ended because the engine or the store refused.", nil, nil)
	descLevel    = prometheus.NewDesc("weighbeam_mirror_level_timestamp_seconds", "When the mirror last had everything; 0 for not since the start.", nil, nil)
)

// Describe is part of prometheus.Collector.
func (m *Mirror) Describe(ch chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{descPoints, descRefused, descFailures, descLevel} {
		ch <- d
	}
}

// Collect is part of prometheus.Collector.
func (m *Mirror) Collect(ch chan<- prometheus.Metric) {
	m.mu.Lock()
	c := m.counted
	m.mu.Unlock()
	level := 0.0
	if !c.level.IsZero() {
		level = float64(c.level.UnixMilli()) / 1e3
	}
	ch <- prometheus.MustNewConstMetric(descPoints, prometheus.CounterValue, float64(c.points))
	ch <- prometheus.MustNewConstMetric(descRefused, prometheus.CounterValue, float64(c.refused))
	ch <- prometheus.MustNewConstMetric(descFailures, prometheus.CounterValue, float64(c.failures))
	ch <- prometheus.MustNewConstMetric(descLevel, prometheus.GaugeValue, level)
}
