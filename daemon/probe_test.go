package daemon

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/hardware"
	"ductward/internal/reading"
)

// fakePoller answers what the test says.
type fakePoller struct {
	channel string
	every   time.Duration
	read    func() (float64, reading.Quality, error)
	reads   int
}

func (p *fakePoller) Channel() string         { return p.channel }
func (p *fakePoller) Interval() time.Duration { return p.every }
func (p *fakePoller) Read() (float64, reading.Quality, error) {
	p.reads++
	return p.read()
}

func steadily(channel string, v float64) *fakePoller {
	return &fakePoller{channel: channel, every: time.Second,
		read: func() (float64, reading.Quality, error) { return v, reading.Good, nil }}
}

// stepFor steps the sampler through a time, a group after the other, and returns what the fold would get.
func stepFor(t *testing.T, seconds int, pollers ...hardware.Poller) batch {
	t.Helper()
	in, channels, clk := newTestIntake(smallShop())
	s, err := newSampler([]hardware.Group{{Bus: "test", Pollers: pollers}}, channels, in, quick, quiet())
	require.NoError(t, err)
	for range seconds {
		s.step(s.groups[0], clk.Mono(), false)
		clk.Advance(time.Second)
	}
	return in.swap(nil)
}

func count(b batch, channel string) int {
	n := 0
	for i := range b.readings {
		if b.readings[i].Channel == channel {
			n++
		}
	}
	return n
}

func TestADriverThatPanicsDoesNotStopItsNeighbour(t *testing.T) {
	broken := &fakePoller{channel: "main/filter drop", every: time.Second,
		read: func() (float64, reading.Quality, error) { panic("index out of range") }}
	b := stepFor(t, 60, broken, steadily("main/trunk", -800))
	assert.Equal(t, 60, count(b, "main/trunk"))
	assert.Zero(t, count(b, "main/filter drop"))
	assert.Equal(t, 60, broken.reads, "it is given another chance each time")
	require.Len(t, b.faults, 1, "told once")
	assert.Equal(t, "driver-failed", b.faults[0].code)
	assert.Contains(t, b.faults[0].text, "index out of range")
}

func TestAFailureInPassingIsNoFault(t *testing.T) {
	n := 0
	p := &fakePoller{channel: "main/trunk", every: time.Second, read: func() (float64, reading.Quality, error) {
		if n++; n%10 < 4 {
			return math.NaN(), reading.Good, &hardware.Fault{Code: hardware.BadCRC}
		}
		return -800, reading.Good, nil
	}}
	b := stepFor(t, 100, p)
	assert.Empty(t, b.faults)
	assert.Equal(t, 60, count(b, "main/trunk"), "what was good is recorded")
}

func TestAFaultIsToldOnceAndEndsOnlyAfterAWhile(t *testing.T) {
	second := 0
	p := &fakePoller{channel: "gate/saw gate", every: time.Second, read: func() (float64, reading.Quality, error) {
		second++
		if second > 20 && second <= 50 && second != 40 { // one good read in the middle ends nothing
			return math.NaN(), reading.Good, &hardware.Fault{Code: hardware.NotAnswering, Where: "pin 5", Remedy: "check the plug"}
		}
		return 1, reading.Good, nil
	}}
	b := stepFor(t, 100, p)
	require.Len(t, b.faults, 2)
	assert.Equal(t, "not-answering, pin 5; check the plug", b.faults[0].text)
	assert.Equal(t, monday.Add(25*time.Second), b.faults[0].at, "5 s after the first failed read, at second 20")
	assert.Empty(t, b.faults[1].code)
	assert.Equal(t, monday.Add(53*time.Second), b.faults[1].at, "3 s after the first good one, at second 50")

	var values []float64
	for _, r := range b.readings {
		values = append(values, r.Value)
	}
	require.Len(t, values, 5, "1, not known, 1 in passing, not known, 1")
	assert.True(t, math.IsNaN(values[1]), "while it fails the gate stands nobody knows where")
	assert.InDelta(t, 1, values[4], 0)
}

func TestAnotherCodeIsNews(t *testing.T) {
	second := 0
	p := &fakePoller{channel: "main/trunk", every: time.Second, read: func() (float64, reading.Quality, error) {
		if second++; second > 30 {
			return math.NaN(), reading.Good, &hardware.Fault{Code: hardware.Saturated}
		}
		return math.NaN(), reading.Good, errors.New("smoke")
	}}
	b := stepFor(t, 60, p)
	require.Len(t, b.faults, 2)
	assert.Equal(t, "failed", b.faults[0].code)
	assert.Equal(t, "saturated", b.faults[1].code)
}

// What the program itself has tried about a fault is news of it: each time the supply of its bus was switched.
func TestWhatWasTriedIsNews(t *testing.T) {
	f := hardware.Fault{Code: hardware.LatchedUp}
	once, twice := f, f
	once.Cycles, twice.Cycles = 1, 2
	h := health{badSince: -1, goodSince: -1}
	for i, c := range []struct {
		f    hardware.Fault
		want bool
	}{{f, true}, {f, false}, {once, true}, {once, false}, {twice, true}, {twice, false}} {
		code, text := codeOf(&c.f)
		assert.Equal(t, c.want, h.failed(time.Minute, newsOf(&c.f, code), 0), "read %d", i)
		assert.Equal(t, c.f.Cycles > 0, strings.Contains(text, "switched off and on"))
	}
}

func TestNoNumberIsNoReading(t *testing.T) {
	b := stepFor(t, 10, steadily("main/trunk", math.Inf(1)))
	assert.Empty(t, b.readings)
	require.Len(t, b.faults, 1)
}

func TestAProbeThatFellBehindKeepsItsBeat(t *testing.T) {
	in, channels, _ := newTestIntake(smallShop())
	p := steadily("main/trunk", -800)
	s, err := newSampler([]hardware.Group{{Bus: "test", Pollers: []hardware.Poller{p}}}, channels, in, quick, quiet())
	require.NoError(t, err)
	assert.Equal(t, time.Second, s.step(s.groups[0], 0, false))
	next := s.step(s.groups[0], 7500*time.Millisecond, false)
	assert.Equal(t, 8*time.Second, next)
	assert.Equal(t, 2, p.reads, "what was missed is let go")
}

func TestUnknownChannelIsRefused(t *testing.T) {
	in, channels, _ := newTestIntake(smallShop())
	_, err := newSampler([]hardware.Group{{Bus: "i2c 1", Pollers: []hardware.Poller{steadily("main/nowhere", 1)}}},
		channels, in, quick, quiet())
	require.ErrorContains(t, err, `"main/nowhere"`)
}

// startPoller is a fakePoller whose part is told to measure first.
type startPoller struct {
	*fakePoller
	start func()
}

func (p *startPoller) Start() { p.start() }

// All parts that are due are told to measure before the first is read; one that is not due is left alone.
func TestPartsAreToldToMeasureTogether(t *testing.T) {
	in, channels, clk := newTestIntake(smallShop())
	var order []string
	part := func(channel string, every time.Duration) *startPoller {
		note := func(what string) { order = append(order, what+" "+channel) }
		p := &startPoller{steadily(channel, 1500), func() { note("start") }}
		p.every = every
		p.read = func() (float64, reading.Quality, error) { note("read"); return 1500, reading.Good, nil }
		return p
	}
	pollers := []hardware.Poller{part("main/trunk", time.Second), part("main/filter drop", 2*time.Second)}
	s, err := newSampler([]hardware.Group{{Bus: "test", Pollers: pollers}}, channels, in, quick, quiet())
	require.NoError(t, err)
	l := &live{sampler: s}
	for range 2 {
		l.step(s.groups[0], clk.Mono())
		clk.Advance(time.Second)
	}
	assert.Equal(t, []string{"start main/trunk", "start main/filter drop", "read main/trunk", "read main/filter drop",
		"start main/trunk", "read main/trunk"}, order)
}
