// Package payload turns bytes into readings and readings into bytes: SenML
// (RFC 8428) as JSON and CBOR, plain numbers, one value picked out of JSON by a
// path, InfluxDB line protocol, and the readings CSV.
//
// It guarantees that every reading it returns passes home.Reading.Valid, that
// no input makes it panic or take memory out of proportion to its size, and
// that what it could not use is named: a decoder returns the readings it got
// together with an error for the rest, so one bad record costs one record. It is
// pure: the time of arrival is an argument.
//
// # Names
//
// A SenML name (base name and name together) ends in a quantity after its last
// ':' or '/', as "box-1:load" or base name "box-1/" with name "weight". What
// stands before names the source. Where a scale claims the topic, the name may be
// only the quantity, or be empty (it then means what the scale measures), and a
// device name that is no source of ours, as "urn:dev:mac:0024befffe804ff1:",
// stands for the scale.
//
// These last parts say something about the other records of the same source in
// the same pack and are no readings themselves: "seq" (v, the device's sequence
// number), "cat" (vs, whose reading it is, as from a reader tag), "window_s" (v,
// seconds over which a count was taken), "state" (vs, how the cat was) and "note"
// (vs).
//
// # Units
//
// Units of the SenML registry and of UCUM are understood alike where they mean the
// same: kg, g, s, ms, min, h, Cel, K, l, m3, count, beats. A record with no unit is
// in the unit of the scale; with no scale it is refused, because a guess between
// kg and g is a guess of a factor of a thousand.
//
// # Times
//
// A reading is dated by the device where it sent a time (home.ByDevice) and
// by its arrival where it did not, or sent how long before that it was, as SenML can
// (home.ByArrival). A time more than
// [FutureTolerance] after the arrival, or before [EarliestClock], is a clock that was
// never set or is set wrong: the reading is kept, dated by its arrival, and its note
// tells what the device said. A copy that a broker kept (retained) and that has no
// usable time of its own is refused, because nobody knows when it was true.
package payload
