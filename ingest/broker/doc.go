// Package broker is the MQTT broker inside the program, for a house that has
// none.
//
// It guarantees that a device's PUBACK (or PUBREC) leaves after what it published
// is committed, with many devices sharing a commit; a message that is not committed
// in time is not acknowledged, and the device is cut off so that it connects and
// sends it again. It listens on loopback unless every device has credentials, and a
// device with credentials reaches only its own topics. It keeps nothing on disk:
// the store behind the commit is the record, and sessions end with the program.
package broker
