package httpapi

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"

	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/ingest/payload"
)

// form reads a body; the scale is what bare names in it stand for.
type form func(body []byte, a payload.Arrival, s home.Scale) ([]home.Reading, error)

// forms by their content types.
var forms = map[string]form{
	"application/senml+json": payload.SenMLJSON,
	"application/json":       payload.SenMLJSON,
	"application/senml+cbor": payload.SenMLCBOR,
	"text/csv":               readCSV,
}

func readCSV(body []byte, a payload.Arrival, s home.Scale) ([]home.Reading, error) {
	return payload.CSV(body, a, s.ID)
}

// read is what a body says that d may say. The error is about the rest.
func (d Device) read(scales Scales, f form, body []byte, a payload.Arrival) ([]home.Reading, error) {
	readings, reason := f(body, a, d.scale(scales))
	own, strange := d.own(readings)
	return own, errors.Join(reason, strange)
}

// scale is the scale that a device with one source stands for, or the zero Scale.
func (d Device) scale(scales Scales) home.Scale {
	if len(d.Sources) != 1 {
		return home.Scale{}
	}
	if s, ok := scales.Scale(d.Sources[0]); ok {
		return s
	}
	return home.Scale{ID: d.Sources[0]}
}

// own parts readings that a device may send from those that it may not.
func (d Device) own(readings []home.Reading) ([]home.Reading, error) {
	if len(d.Sources) == 0 {
		return readings, nil
	}
	var own []home.Reading
	strange := ""
	for _, r := range readings {
		if slices.Contains(d.Sources, r.Source) {
			own = append(own, r)
		} else {
			strange = r.Source
		}
	}
	if strange != "" {
		return own, fmt.Errorf("device %q may not send for source %q", d.Name, strange)
	}
	return own, nil
}

// Decoder is the [ingest.Decoder] of a house with devices: what was set aside here
// is tried again with the rights that the device which sent it has now, so that
// trying again lets nobody in. Everything else is read by the router.
type Decoder struct {
	Devices []Device // as of now; their tokens are not looked at
	Router  *ingest.Router
}

// Decode is part of [ingest.Decoder].
func (d Decoder) Decode(x ingest.Delivery) ([]home.Reading, error) {
	if x.Way != ingest.WayHTTP {
		return d.Router.Decode(x)
	}
	var sender Device // what names none came from this machine while no device had a token
	if _, name, named := strings.Cut(x.Topic, "#"); named {
		i := slices.IndexFunc(d.Devices, func(o Device) bool { return o.Name == name })
		if i < 0 {
			return nil, fmt.Errorf("device %q, which sent it, is not in the settings: it may send for no source", name)
		}
		sender = d.Devices[i]
	}
	return sender.read(d.Router, formOf(x.Payload), x.Payload, payload.Arrival{Time: x.Arrived})
}

// formOf is the form of a body whose content type is not known any more.
func formOf(body []byte) form {
	line, _, _ := bytes.Cut(body, []byte("\n"))
	switch {
	case len(body) > 0 && body[0]&0xe0 == 0x80: // an array (RFC 8949, section 3.1)
		return payload.SenMLCBOR
	case !bytes.HasPrefix(bytes.TrimSpace(body), []byte("[")) && bytes.Contains(line, []byte("time")): // a header
		return readCSV
	}
	return payload.SenMLJSON
}
