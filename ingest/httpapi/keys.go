package httpapi

import (
	"crypto/sha256"
	"net/http"
	"sync"
)

// keys remembers the answers to requests that carried an Idempotency-Key (IETF
// draft "The Idempotency-Key HTTP Header Field").
type keys struct {
	mu    sync.Mutex
	known map[[sha256.Size]byte]*request
	order [][sha256.Size]byte // oldest first
}

// request is one that is answered, or being answered while answer is nil.
type request struct {
	print  [sha256.Size]byte // of what was sent
	answer *answer
}

const (
	maxKeys   = 10_000 // answers are short: a few MiB at most
	maxKeyLen = 256
)

func newKeys() *keys { return &keys{known: map[[sha256.Size]byte]*request{}} }

// once runs do unless the same device sent the same key before: then it gives the
// answer of then. The same key with another body is a mistake of the sender, and
// one that is still being answered a race; both are refused. Only what was
// committed, or cannot ever be, is remembered.
func (k *keys) once(key, device, contentType string, body []byte, do func() *answer) *answer {
	if key == "" {
		return do()
	}
	if len(key) > maxKeyLen {
		return refuse(http.StatusBadRequest, "The Idempotency-Key is too long.")
	}
	id := sha256.Sum256([]byte(device + "\x00" + key))
	mine := &request{print: sha256.Sum256(append([]byte(contentType+"\x00"), body...))}
	if earlier := k.claim(id, mine); earlier != nil {
		return earlier
	}
	a := do()
	k.settle(id, mine, a)
	return a
}

// claim enters a request; what it returns, if anything, is the answer to give.
func (k *keys) claim(id [sha256.Size]byte, mine *request) *answer {
	k.mu.Lock()
	defer k.mu.Unlock()
	if r, ok := k.known[id]; ok {
		switch {
		case r.print != mine.print:
			return refuse(http.StatusUnprocessableEntity, "The Idempotency-Key was used for another request.")
		case r.answer == nil:
			return refuse(http.StatusConflict, "The same request is being answered.").retryAfter(1)
		}
		return r.answer
	}
	if len(k.order) >= maxKeys {
		delete(k.known, k.order[0])
		k.order = k.order[1:]
	}
	k.known[id] = mine
	k.order = append(k.order, id)
	return nil
}

// settle remembers an answer, or forgets the request where sending it again can help.
func (k *keys) settle(id [sha256.Size]byte, mine *request, a *answer) {
	k.mu.Lock()
	defer k.mu.Unlock()
	mine.answer = a
	if a.status < 500 || k.known[id] != mine {
		return
	}
	delete(k.known, id)
	for i, o := range k.order {
		if o == id {
			k.order = append(k.order[:i], k.order[i+1:]...)
			break
		}
	}
}
