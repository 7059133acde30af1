package daemon

import "sync"

// mostPending is how many estimates may wait for a broker that is away: more than two days of one collector.
const mostPending = 4000

// message is one thing to publish.
type message struct {
	topic   string
	payload []byte
	kept    bool // retained by the broker
}

// estimateBox holds the estimates that wait for the broker, in memory and in order. They are not in the store: after a restart
// the next estimate says how things are then. A receiver sees by their numbers where some are missing. It is safe for concurrent
// use.
type estimateBox struct {
	wake chan struct{} // holds one token while something waits

	mu      sync.Mutex
	pending []message
	dropped int
}

func newEstimateBox() *estimateBox { return &estimateBox{wake: make(chan struct{}, 1)} }

// put adds a message, and drops the oldest where there are too many.
func (o *estimateBox) put(m message) {
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
func (o *estimateBox) first() (message, bool) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if len(o.pending) == 0 {
		return message{}, false
	}
	return o.pending[0], true
}

// taken lets go of a message that the broker has, unless it was dropped meanwhile.
func (o *estimateBox) taken(m message) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if len(o.pending) > 0 && &o.pending[0].payload[0] == &m.payload[0] {
		o.pending = o.pending[1:]
	}
}

func (o *estimateBox) ring() {
	select {
	case o.wake <- struct{}{}:
	default:
	}
}
