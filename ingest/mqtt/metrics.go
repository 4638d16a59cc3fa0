package mqtt

import "github.com/prometheus/client_golang/prometheus"

var (
	descConnected   = desc("connected", "1 while there is a connection to the broker.")
	descConnects    = desc("connects_total", "Connections made to the broker.")
	descLastMessage = desc("last_message_timestamp_seconds", "When the last message came, 0 for never.")
	descInFlight    = desc("in_flight", "Messages taken and not yet acknowledged.")
	descLeft        = desc("left_total", "Messages that found no room; the broker sends them again.")
	descLost        = desc("lost_total", "Messages of QoS 0 that found no room and are gone.")
)

func desc(name, help string) *prometheus.Desc {
	return prometheus.NewDesc("weighbeam_mqtt_"+name, help, nil, nil)
}

// Describe is part of prometheus.Collector.
func (s *Session) Describe(ch chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{descConnected, descConnects, descLastMessage, descInFlight, descLeft, descLost} {
		ch <- d
	}
}

// Collect is part of prometheus.Collector.
func (s *Session) Collect(ch chan<- prometheus.Metric) {
	h := s.Health()
	connected, last := 0.0, 0.0
	if h.Connected {
		connected = 1
	}
	if !h.LastMessage.IsZero() {
		last = float64(h.LastMessage.UnixMilli()) / 1e3
	}
	gauge, counter := prometheus.GaugeValue, prometheus.CounterValue
	ch <- prometheus.MustNewConstMetric(descConnected, gauge, connected)
	ch <- prometheus.MustNewConstMetric(descConnects, counter, float64(h.Connects))
	ch <- prometheus.MustNewConstMetric(descLastMessage, gauge, last)
	ch <- prometheus.MustNewConstMetric(descInFlight, gauge, float64(h.InFlight))
	ch <- prometheus.MustNewConstMetric(descLeft, counter, float64(h.Left))
	ch <- prometheus.MustNewConstMetric(descLost, counter, float64(h.Lost))
}
