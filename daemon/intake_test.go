package daemon

import (
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/clock"
	"ductward/internal/reading"
)

func TestIntakePutsAllSourcesIntoOneOrder(t *testing.T) {
	const sources, each = 4, 2000
	channels, _ := channelsOf(smallShop())
	in := newIntake(clock.NewSystem(), 7, channels)
	var wg sync.WaitGroup
	for range sources {
		wg.Go(func() {
			for range each {
				in.take(channels["main/trunk"], single(-800))
			}
		})
	}
	wg.Wait()
	rs := in.swap(nil).readings
	require.Len(t, rs, sources*each)
	for i := range rs {
		assert.Equal(t, uint32(7), rs[i].Boot)
		assert.Equal(t, uint64(i+1), rs[i].Seq)
		if i > 0 {
			require.LessOrEqual(t, rs[i-1].Mono, rs[i].Mono, "reading %d", i)
		}
	}
}

func TestIntakeLabelsWithCivilTimeOnlyOnceItIsTrusted(t *testing.T) {
	channels, _ := channelsOf(smallShop())
	clk := clock.NewVirtual(monday)
	in := newIntake(clk, 1, channels)
	clk.Advance(time.Minute)
	in.take(channels["main/trunk"], single(-800))
	in.place(monday.Add(time.Hour))
	in.take(channels["main/trunk"], single(-800))
	rs := in.swap(nil).readings
	require.Len(t, rs, 2)
	assert.True(t, rs[0].Time.IsZero())
	assert.Equal(t, monday.Add(time.Hour+time.Minute), rs[1].Time)
}

func TestIntakeMarksWhatComesBehindTheOthers(t *testing.T) {
	in, channels, clk := newTestIntake(smallShop())
	clk.Advance(time.Minute)
	in.take(channels["main/trunk"], single(-800))
	late := single(600)
	late.Mono = 30 * time.Second
	in.takePushed(channels["main/filter drop"], late)
	soon := single(610)
	soon.Mono = 59 * time.Second
	in.takePushed(channels["main/filter drop"], soon)
	rs := in.swap(nil).readings
	require.Len(t, rs, 3)
	assert.Equal(t, reading.Late, rs[1].Quality)
	assert.Equal(t, 30*time.Second, rs[1].Mono, "stored where it belongs")
	assert.Equal(t, reading.Good, rs[2].Quality)
	assert.Equal(t, time.Minute, rs[2].Mono, "a moment late is taken as it comes")
}

func TestIntakeIsBounded(t *testing.T) {
	in, channels, _ := newTestIntake(smallShop())
	for range mostWaiting + 10 {
		in.take(channels["main/trunk"], single(-800))
	}
	b := in.swap(nil)
	assert.Len(t, b.readings, mostWaiting)
	assert.Equal(t, 10, b.lost)
	assert.Zero(t, in.swap(nil).lost, "told once")
}

func BenchmarkIntake(b *testing.B) {
	in, channels, clk := newTestIntake(smallShop())
	c := channels["main/trunk"]
	var spare []reading.Reading
	for i := range b.N {
		clk.Advance(time.Second)
		in.take(c, single(-800))
		if i%historyBatch == 0 {
			spare = in.swap(spare).readings
		}
	}
}
