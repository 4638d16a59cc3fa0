// Package httpapi is the way in for what cannot speak MQTT: POST
// /api/v1/readings.
//
// It guarantees that an answer of 200 leaves after the readings are committed;
// that a device with a token reaches only its own sources, also when what was set
// aside of it is tried again; that without any token
// only programs on the same machine are heard, and no web page; and that a request
// sent again with the same Idempotency-Key gets the same answer and stores nothing
// twice, after a crash between commit and answer too: the answers to the newest
// 10,000 keys are committed with what they answer for. Without a key what protects
// is the identity of a reading: send a time or a sequence number.
//
// The body is SenML JSON (application/senml+json, or application/json), SenML CBOR
// (application/senml+cbor) or the readings CSV (text/csv), of at most a mebibyte.
// The answer is JSON: how many readings were taken, and what could not be read, or
// contradicts a reading that is stored. A body of which nothing is taken is answered
// with 422 and set aside like every other payload. 503 means that nothing was committed: send it again.
package httpapi
