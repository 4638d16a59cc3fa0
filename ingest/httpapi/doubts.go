package httpapi

import (
	"crypto/sha256"
	"sync"

	"weighbeam/home"
)

// doubts are the bodies that were handed over and may yet be stored, while their
// senders were told that nothing is confirmed: they will send them again, and HTTP has
// no mark for that.
type doubts struct {
	mu   sync.Mutex
	open map[home.Hash]bool
}

// doubtsMost is how many are remembered; more devices than that do not send to a house.
const doubtsMost = 1024

// requestOf names a body of a device.
func requestOf(device, contentType string, body []byte) home.Hash {
	return sha256.Sum256(append([]byte(device+"\x00"+contentType+"\x00"), body...))
}

func (d *doubts) has(request home.Hash) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.open[request]
}

// set remembers a doubt, or forgets it once its sender has an answer.
func (d *doubts) set(request home.Hash, open bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	switch {
	case !open:
		delete(d.open, request)
	case len(d.open) < doubtsMost:
		d.open[request] = true
	}
}
