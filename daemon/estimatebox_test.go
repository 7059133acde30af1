package daemon

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Whatever is put, taken and fails on the way, everything comes out at least once and in order, and a repeat is the very
// message of before.
func TestEstimatesLeaveInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := newEstimateBox()
		put, got := 0, []string{}
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			if rapid.Bool().Draw(t, "put") {
				put++
				o.put(message{topic: "t", payload: []byte(fmt.Sprint(put))})
				continue
			}
			if m, ok := o.first(); ok {
				if n := len(got); n == 0 || got[n-1] != string(m.payload) {
					got = append(got, string(m.payload))
				}
				if rapid.Bool().Draw(t, "arrives") {
					o.taken(m)
				}
			}
		}
		for m, ok := o.first(); ok; m, ok = o.first() {
			if n := len(got); n == 0 || got[n-1] != string(m.payload) {
				got = append(got, string(m.payload))
			}
			o.taken(m)
		}
		require.Len(t, got, put)
		for i, p := range got {
			require.Equal(t, fmt.Sprint(i+1), p)
		}
	})
}

func TestEstimatesAreBounded(t *testing.T) {
	o := newEstimateBox()
	put := func(n int) { o.put(message{payload: []byte(fmt.Sprint(n))}) }
	put(0)
	m, _ := o.first() // on its way while it is dropped
	for n := 1; n < mostPending+3; n++ {
		put(n)
	}
	assert.Equal(t, 3, o.dropped)
	o.taken(m)
	m, ok := o.first()
	require.True(t, ok)
	assert.Equal(t, "3", string(m.payload), "the oldest went, and what had gone was not taken for the next")
}
