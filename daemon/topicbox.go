package daemon

import "sync"

// mostPending is how many topics may wait for a broker that is away. A shop has some dozen, and one an alarm.
const mostPending = 1000

// message is one thing to publish.
type message struct {
	topic   string
	payload []byte
	kept    bool // retained by the broker, and sent at least once (QoS 1)
}

// topicBox holds what waits for the broker: for each topic the newest message only, since each says how things stand. It
// is safe for concurrent use.
type topicBox struct {
	wake chan struct{} // holds one token while something waits

	mu      sync.Mutex
	order   []string // topics in the order in which they began to wait
	pending map[string]message
	dropped int
}

func newTopicBox() *topicBox {
	return &topicBox{wake: make(chan struct{}, 1), pending: map[string]message{}}
}

// put adds a message, in the place of an older one of its topic.
func (o *topicBox) put(m message) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if _, waits := o.pending[m.topic]; !waits {
		if len(o.order) >= mostPending {
			o.drop()
		}
		o.order = append(o.order, m.topic)
	}
	o.pending[m.topic] = m
	o.ring()
}

// drop makes room: the oldest message that a broker would not keep goes first.
func (o *topicBox) drop() {
	victim := 0
	for i, topic := range o.order {
		if !o.pending[topic].kept {
			victim = i
			break
		}
	}
	delete(o.pending, o.order[victim])
	o.order = append(o.order[:victim], o.order[victim+1:]...)
	o.dropped++
}

// next takes the message that waits longest.
func (o *topicBox) next() (message, bool) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if len(o.order) == 0 {
		return message{}, false
	}
	m := o.pending[o.order[0]]
	delete(o.pending, m.topic)
	o.order = o.order[1:]
	if len(o.order) > 0 {
		o.ring()
	}
	return m, true
}

// back returns a message that could not be sent to the front, unless a newer one of its topic waits by now.
func (o *topicBox) back(m message) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if _, newer := o.pending[m.topic]; newer {
		return
	}
	o.order = append([]string{m.topic}, o.order...)
	o.pending[m.topic] = m
	o.ring()
}

func (o *topicBox) ring() {
	select {
	case o.wake <- struct{}{}:
	default:
	}
}
