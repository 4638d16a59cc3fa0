package httpapi_test

import (
	"strings"
	"testing"

	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/ingest/httpapi"
)

// What was set aside is read again as the device that sent it may send now; and what
// came another way by the router, as ever.
func TestDecoder_Decode_AsTheDeviceMay(t *testing.T) {
	router, err := ingest.NewRouter(home.Household{Scales: []home.Scale{
		{ID: "box-1", Kind: home.LitterBox, Unit: "g", Sends: home.Weight},
		{ID: "bowl", Kind: home.Feeder, Topic: "home/bowl", Payload: "number", Unit: "kg"},
	}})
	if err != nil {
		t.Fatal(err)
	}
	const (
		box  = httpapi.Path + "#box"
		both = httpapi.Path + "#both"
		csv  = "quantity,time,source,value\nweight,2025-03-03T11:00:00Z,box-1,4.5\nweight,2025-03-03T11:00:00Z,box-9,4.5\n"
	)
	d := httpapi.Decoder{Devices: devices, Router: router}
	for _, row := range []struct {
		name, way, topic, payload string
		want                      string // sources that are read
		reason                    string // part of it
	}{
		{"its own", ingest.WayHTTP, box, good, "box-1", ""},
		// the name may be bare and the unit the scale's, as when it came
		{"bare", ingest.WayHTTP, box, `[{"v":4500}]`, "box-1", ""},
		{"of another scale", ingest.WayHTTP, both, `[{"n":"box-2:weight","u":"kg","v":4.5}]`, "", `"both" may not send for source "box-2"`},
		{"of a hand", ingest.WayHTTP, both, `[{"n":"hand:weight","u":"kg","v":4.5}]`, "", "may not send"},
		{"CSV, in part its own", ingest.WayHTTP, both, csv, "box-1", "box-9"},
		{"CBOR", ingest.WayHTTP, both, "\x81\xa3\x00\x6cbox-1:weight\x01\x62kg\x02\x04", "box-1", ""},
		{"CBOR of another scale", ingest.WayHTTP, both, "\x81\xa3\x00\x6cbox-2:weight\x01\x62kg\x02\x04", "", "may not send"},
		{"nonsense", ingest.WayHTTP, both, "nonsense", "", "SenML"},
		{"nothing", ingest.WayHTTP, both, "", "", "SenML"},
		// a device that was taken out of the settings has no right any more
		{"a device that is gone", ingest.WayHTTP, httpapi.Path + "#gone", good, "", `"gone"`},
		// that came from this machine while no device had a token
		{"no device", ingest.WayHTTP, httpapi.Path, csv, "box-1 box-9", ""},
		// over MQTT the broker looked at the rights; a '#' in a topic's place means nothing there
		{"MQTT", ingest.WayMQTT, "home/bowl", "0.04", "bowl", ""},
		{"MQTT, on a topic of that name", ingest.WayMQTT, box, `[{"n":"box-2:weight","u":"kg","v":4.5}]`, "box-2", ""},
	} {
		t.Run(row.name, func(t *testing.T) {
			got, err := d.Decode(ingest.Again(home.SetAside{ID: 7, Way: row.way, Topic: row.topic, Payload: []byte(row.payload), Arrived: now}))
			var sources []string
			for _, r := range got {
				sources = append(sources, r.Source)
				if r.Value > 5 || !r.Arrived.Equal(now) {
					t.Errorf("read as %+v", r)
				}
			}
			if strings.Join(sources, " ") != row.want {
				t.Errorf("read %v", got)
			}
			if (err == nil) != (row.reason == "") || err != nil && !strings.Contains(err.Error(), row.reason) {
				t.Errorf("the reason is %v", err)
			}
		})
	}
}
