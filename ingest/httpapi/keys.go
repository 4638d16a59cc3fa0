package httpapi

import (
	"context"
	"crypto/sha256"
	"net/http"
	"sync"

	"weighbeam/home"
)

// keys finds the answers to requests that carried an Idempotency-Key (IETF draft
// "The Idempotency-Key HTTP Header Field"), and knows which are being answered.
type keys struct {
	answers Answers
	mu      sync.Mutex
	open    map[home.Hash]home.Hash // key to request
}

// claim is a request with a key that is being answered. The nil claim is of one
// without.
type claim struct {
	of           *keys
	key, request home.Hash
}

const maxKeyLen = 256

func newKeys(answers Answers) *keys { return &keys{answers: answers, open: map[home.Hash]home.Hash{}} }

// claim enters a request unless there is an answer already: the one of then, where
// the same device sent the same before, or a refusal. The same key with another body
// is a mistake of the sender, and one that is still being answered a race.
func (k *keys) claim(ctx context.Context, key, device, contentType string, body []byte) (*claim, *answer) {
	if key == "" {
		return nil, nil
	}
	if len(key) > maxKeyLen {
		return nil, refuse(http.StatusBadRequest, "The Idempotency-Key is too long.")
	}
	c := &claim{of: k, key: sha256.Sum256([]byte(device + "\x00" + key)), request: sha256.Sum256(append([]byte(contentType+"\x00"), body...))}
	if bad := k.enter(c); bad != nil {
		return nil, bad
	}
	earlier, found, err := k.answers.Answer(ctx, c.key) // once entered: its own commit cannot come between
	switch {
	case err != nil:
		c.release()
		return nil, refuse(http.StatusServiceUnavailable, "The store could not be asked ("+err.Error()+"). Send it again.").retryAfter(5)
	case !found:
		return c, nil
	}
	c.release()
	if earlier.Request != c.request {
		return nil, refuse(http.StatusUnprocessableEntity, usedTwice)
	}
	return nil, again(earlier)
}

const usedTwice = "The Idempotency-Key was used for another request."

func (k *keys) enter(c *claim) *answer {
	k.mu.Lock()
	defer k.mu.Unlock()
	request, open := k.open[c.key]
	switch {
	case !open:
		k.open[c.key] = c.request
		return nil
	case request != c.request:
		return refuse(http.StatusUnprocessableEntity, usedTwice)
	}
	return refuse(http.StatusConflict, "The same request is being answered.").retryAfter(1)
}

// release ends the claim: the request is answered in the store, or will not be.
func (c *claim) release() {
	if c == nil {
		return
	}
	c.of.mu.Lock()
	defer c.of.mu.Unlock()
	delete(c.of.open, c.key)
}
