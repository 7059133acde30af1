package daemon

import "sync"

// mostPending is how many values may wait for a broker that is away: over an hour of a shop with some dozen channels. What
// is older is in the store and can leave it as a file.
const mostPending = 4000

// message is one thing to publish.
type message struct {
	topic   string
	payload []byte
	kept    bool // retained by the broker
}

// valueBox holds the values that wait for the broker, in memory and in order: readings and estimates. A receiver sees by
// their numbers where some are missing. It is safe for concurrent use.
type valueBox struct {
	wake chan struct{} // holds one token while something waits

	mu      sync.Mutex
	pending []message
	dropped int
}

func newValueBox() *valueBox { return &valueBox{wake: make(chan struct{}, 1)} }

// put adds a message, and drops the oldest where there are too many.
func (o *valueBox) put(m message) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if len(o.pending) >= mostPending {
		o.pending = o.pending[1:]
		o.dropped++
	}
	o.pending = append(o.pending, m)
	o.ring()
}

// first is the message that waits longest. It stays until the broker has it.
func (o *valueBox) first() (message, bool) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if len(o.pending) == 0 {
		return message{}, false
	}
	return o.pending[0], true
}

// taken lets go of a message that the broker has, unless it was dropped meanwhile.
func (o *valueBox) taken(m message) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if len(o.pending) > 0 && &o.pending[0].payload[0] == &m.payload[0] {
		o.pending = o.pending[1:]
	}
}

func (o *valueBox) ring() {
	select {
	case o.wake <- struct{}{}:
	default:
	}
}
