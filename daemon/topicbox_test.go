package daemon

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Whatever is put, taken and given back, what comes out last of each topic is what was put last, and nothing comes
// twice.
func TestOutboxKeepsTheNewestOfEachTopic(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := newTopicBox()
		newest, sent := map[string]int{}, map[string]int{}
		n := 0
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			switch topic := fmt.Sprint("t", rapid.IntRange(1, 4).Draw(t, "topic")); rapid.IntRange(0, 2).Draw(t, "what") {
			case 0, 1:
				n++
				newest[topic] = n
				o.put(message{topic: topic, payload: []byte(fmt.Sprint(n))})
			case 2:
				m, ok := o.next()
				if ok && rapid.Bool().Draw(t, "fails") {
					o.back(m)
				} else if ok {
					sent[m.topic] = number(t, m, sent[m.topic])
				}
			}
		}
		for {
			m, ok := o.next()
			if !ok {
				break
			}
			sent[m.topic] = number(t, m, sent[m.topic])
		}
		require.Equal(t, newest, sent)
	})
}

func number(t *rapid.T, m message, before int) (n int) {
	_, err := fmt.Sscan(string(m.payload), &n)
	require.NoError(t, err)
	require.Greater(t, n, before, "an older message after a newer one on %q", m.topic)
	return n
}

func TestOutboxIsBoundedAndKeepsStatesBeforeReadings(t *testing.T) {
	o := newTopicBox()
	o.put(message{topic: "alarm", kept: true})
	for i := range mostPending + 5 {
		o.put(message{topic: fmt.Sprint("reading ", i)})
	}
	assert.Equal(t, 6, o.dropped)
	m, ok := o.next()
	require.True(t, ok)
	assert.Equal(t, "alarm", m.topic, "the oldest reading went, not the alarm")
	m, _ = o.next()
	assert.Equal(t, "reading 6", m.topic)
}
