package outbox_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/fixedseed"
	"ductward/internal/outbox"
)

const seed = "20260302"

func TestMain(m *testing.M) {
	fixedseed.Set(seed)
	os.Exit(m.Run())
}

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

// drawer is a store in memory that passes everything through its JSON, and fails when the test says so.
type drawer struct {
	items map[uint64][]byte
	fail  error
}

func newDrawer() *drawer { return &drawer{items: map[uint64][]byte{}} }

func (d *drawer) PutItems(list []outbox.Item) error {
	if d.fail != nil {
		return d.fail
	}
	for _, it := range list {
		data, err := json.Marshal(it)
		if err != nil {
			return err
		}
		d.items[it.Number] = data
	}
	return nil
}

func (d *drawer) DropItems(numbers []uint64) error {
	for _, n := range numbers {
		delete(d.items, n)
	}
	return d.fail
}

func (d *drawer) Items() (out []outbox.Item, err error) {
	for _, data := range d.items {
		var it outbox.Item
		if err := json.Unmarshal(data, &it); err != nil {
			return nil, err
		}
		out = append(out, it)
	}
	return out, nil
}

var opt = outbox.Options{First: 10 * time.Second, Most: time.Minute, GiveUp: 5 * time.Minute, Keep: 24 * time.Hour}

func open(t require.TestingT, d *drawer, targets ...string) *outbox.Box {
	b, err := outbox.New(d, targets, noon, opt)
	require.NoError(t, err)
	return b
}

func letter(id string, p finding.Priority) outbox.Letter {
	return outbox.Letter{ID: id, Kind: outbox.Alarm, Event: alarm.Raised, Priority: p, At: noon, Subject: id,
		Alarm: &alarm.Alarm{ID: id}}
}

var errAway = errors.New("connection refused")

func next(t *testing.T, b *outbox.Box, target string, mono time.Duration) string {
	t.Helper()
	it, _, ok := b.Next(target, mono, false, 0)
	if !ok {
		return ""
	}
	return it.Letter.ID
}

func TestTargetsDoNotHoldEachOtherUp(t *testing.T) {
	b := open(t, newDrawer(), "mail", "webhook/office")
	require.NoError(t, b.Put([]outbox.Letter{letter("a", finding.Plan), letter("b", finding.Plan)}, "mail", "webhook/office"))
	it, _, ok := b.Next("mail", 0, false, 0)
	require.True(t, ok)
	require.NoError(t, b.Failed(it.Number, 0, noon, errAway))
	assert.Empty(t, next(t, b, "mail", time.Second), "it pauses, and nothing goes past the first")
	assert.Equal(t, "a", next(t, b, "webhook/office", time.Second))
	assert.Equal(t, "a", next(t, b, "mail", 10*time.Second))
	s := b.Status()
	assert.Equal(t, 2, s[0].Waiting)
	assert.Equal(t, 1, s[0].Failures)
	assert.Equal(t, "connection refused", s[0].Problem)
	assert.Zero(t, s[1].Failures)
}

func TestPausesDoubleUpToTheCapAndEndWithSuccess(t *testing.T) {
	b := open(t, newDrawer(), "mail")
	require.NoError(t, b.Put([]outbox.Letter{letter("a", finding.Plan), letter("b", finding.Plan)}, "mail"))
	mono := time.Duration(0)
	for _, want := range []time.Duration{10 * time.Second, 20 * time.Second, 40 * time.Second, time.Minute, time.Minute} {
		it, _, ok := b.Next("mail", mono, false, 0)
		require.True(t, ok)
		require.NoError(t, b.Failed(it.Number, mono, noon, errAway))
		_, wait, ok := b.Next("mail", mono, false, 0)
		require.False(t, ok)
		assert.Equal(t, want, wait)
		mono += wait
	}
	it, _, ok := b.Next("mail", mono, false, 0)
	require.True(t, ok)
	require.NoError(t, b.Sent(it.Number, noon))
	assert.Equal(t, "b", next(t, b, "mail", mono), "at once: it answers again")
}

func TestALetterIsDeadAfterItsTimeAndIsKept(t *testing.T) {
	d := newDrawer()
	b := open(t, d, "mail")
	require.NoError(t, b.Put([]outbox.Letter{letter("a", finding.Plan)}, "mail"))
	mono := time.Duration(0)
	tries := 0
	for ; mono < time.Hour; tries++ {
		it, wait, ok := b.Next("mail", mono, false, 0)
		if !ok && wait == 0 {
			break
		}
		if ok {
			require.NoError(t, b.Failed(it.Number, mono, noon.Add(mono), errAway))
		}
		mono += wait
		if tries == 6 { // the board is off for a month: that is no trying
			b, mono = open(t, d, "mail"), 0
		}
	}
	s := b.Status()
	require.Len(t, s[0].Dead, 1)
	assert.Equal(t, "connection refused", s[0].Dead[0].Last)
	assert.GreaterOrEqual(t, s[0].Dead[0].Tried, opt.GiveUp)
	assert.Zero(t, s[0].Waiting)
	b = open(t, d, "mail")
	assert.Len(t, b.Status()[0].Dead, 1, "said after a restart too")
	require.NoError(t, b.Tidy(noon.Add(48*time.Hour)))
	assert.Empty(t, b.All())
	assert.Empty(t, d.items)
}

func TestWhatIsRefusedForGoodHoldsUpNothing(t *testing.T) {
	b := open(t, newDrawer(), "mail")
	require.NoError(t, b.Put([]outbox.Letter{letter("a", finding.Plan), letter("b", finding.Plan)}, "mail"))
	it, _, _ := b.Next("mail", 0, false, 0)
	require.NoError(t, b.Failed(it.Number, 0, noon, fmt.Errorf("%w: too long", outbox.ErrRefused)))
	assert.Equal(t, "b", next(t, b, "mail", 0))
	assert.Len(t, b.Status()[0].Dead, 1)
}

func TestTheSameEventIsPutOnce(t *testing.T) {
	d := newDrawer()
	b := open(t, d, "mail")
	require.NoError(t, b.Put([]outbox.Letter{letter("a", finding.Plan)}, "mail"))
	it, _, _ := b.Next("mail", 0, false, 0)
	require.NoError(t, b.Sent(it.Number, noon))
	b = open(t, d, "mail")
	require.NoError(t, b.Put([]outbox.Letter{letter("a", finding.Plan)}, "mail"))
	assert.Empty(t, next(t, b, "mail", 0))
	assert.Equal(t, noon, b.Status()[0].Last)
	assert.Len(t, b.Of("a"), 1)
}

func TestQuietHoursHoldPlansAndNeverWhatIsUrgent(t *testing.T) {
	b := open(t, newDrawer(), "mail")
	over := letter("urgent", finding.ActToday)
	over.ID, over.Event = "urgent over", alarm.Cleared
	require.NoError(t, b.Put([]outbox.Letter{letter("plan", finding.Plan), letter("lost", finding.Instrument),
		letter("urgent", finding.ActToday), over,
		{ID: "beat", Kind: outbox.Heartbeat}, {ID: "test", Kind: outbox.Test}}, "mail"))
	var got []string
	for {
		it, wait, ok := b.Next("mail", 0, true, 7*time.Hour)
		if !ok {
			assert.Equal(t, 7*time.Hour, wait, "until the quiet hours end")
			break
		}
		got = append(got, it.Letter.ID)
		require.NoError(t, b.Sent(it.Number, noon))
	}
	assert.Equal(t, []string{"urgent", "beat", "test"}, got)
	got = nil
	for it, _, ok := b.Next("mail", 0, false, 0); ok; it, _, ok = b.Next("mail", 0, false, 0) {
		got = append(got, it.Letter.ID)
		require.NoError(t, b.Sent(it.Number, noon))
	}
	assert.Equal(t, []string{"plan", "lost", "urgent over"}, got)
}

func TestAPlanThatBecomesUrgentIsToldInOrder(t *testing.T) {
	b := open(t, newDrawer(), "mail")
	more := letter("a", finding.ActToday)
	more.ID, more.Event = "a.2", alarm.Urged
	require.NoError(t, b.Put([]outbox.Letter{letter("a", finding.Plan), more}, "mail"))
	it, _, ok := b.Next("mail", 0, true, time.Hour)
	require.True(t, ok)
	assert.Equal(t, "a", it.Letter.ID)
}

func TestALaterHeartbeatTakesTheEarliersPlace(t *testing.T) {
	b := open(t, newDrawer(), "mail")
	require.NoError(t, b.Put([]outbox.Letter{{ID: "monday", Kind: outbox.Heartbeat, At: noon}}, "mail"))
	require.NoError(t, b.Put([]outbox.Letter{{ID: "tuesday", Kind: outbox.Heartbeat, At: noon.Add(24 * time.Hour)}}, "mail"))
	assert.Equal(t, "tuesday", next(t, b, "mail", 0))
	assert.Equal(t, noon.Add(24*time.Hour), b.Had("mail", outbox.Heartbeat))
	require.NoError(t, b.Tidy(noon))
	assert.Len(t, b.All(), 1)
}

func TestATargetThatIsGoneLeavesItsLettersDead(t *testing.T) {
	d := newDrawer()
	require.NoError(t, open(t, d, "mail").Put([]outbox.Letter{letter("a", finding.Plan)}, "mail"))
	b := open(t, d, "syslog")
	require.Len(t, b.All(), 1)
	assert.Equal(t, outbox.Dead, b.All()[0].State)
}

func TestAFullCardDelaysNothing(t *testing.T) {
	d := newDrawer()
	b := open(t, d, "mail")
	d.fail = errors.New("no space left on device")
	require.ErrorIs(t, b.Put([]outbox.Letter{letter("a", finding.ActToday)}, "mail"), d.fail)
	assert.Equal(t, "a", next(t, b, "mail", 0))
	d.fail = nil
	require.NoError(t, b.Tidy(noon))
	assert.Len(t, d.items, 1, "it is stored once that can be done")
}

// Whatever fails, restarts and is held back: each target hears every letter that is not dead at least once, in order, and
// only a restart between sending and noting makes it hear one twice.
func TestNothingIsLostOrReordered(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := newDrawer()
		targets := []string{"mail", "syslog"}
		b := open(t, d, targets...)
		heard := map[string][]string{}
		put, mono := 0, time.Duration(0)
		try := func(target string, fails bool) {
			it, _, ok := b.Next(target, mono, false, 0)
			switch {
			case !ok:
			case fails:
				require.NoError(t, b.Failed(it.Number, mono, noon, errAway))
			default:
				heard[target] = append(heard[target], it.Letter.ID)
				if rapid.IntRange(0, 9).Draw(t, "power cut") == 0 {
					b, mono = open(t, d, targets...), 0
					return
				}
				require.NoError(t, b.Sent(it.Number, noon))
			}
		}
		for range rapid.IntRange(1, 60).Draw(t, "steps") {
			mono += time.Duration(rapid.IntRange(0, 20).Draw(t, "seconds")) * time.Second
			switch rapid.SampledFrom([]string{"put", "try", "restart"}).Draw(t, "what") {
			case "put":
				put++
				require.NoError(t, b.Put([]outbox.Letter{letter(fmt.Sprintf("%03d", put), finding.Plan)}, targets...))
			case "try":
				try(rapid.SampledFrom(targets).Draw(t, "target"), rapid.Bool().Draw(t, "fails"))
			case "restart":
				b, mono = open(t, d, targets...), 0
			}
		}
		dead := map[string]bool{}
		for _, it := range b.All() {
			dead[it.Target+it.Letter.ID] = it.State == outbox.Dead
		}
		mono += time.Hour
		for range 200 {
			for _, target := range targets {
				try(target, false)
			}
		}
		for _, target := range targets {
			last := ""
			for _, id := range heard[target] {
				require.GreaterOrEqual(t, id, last, "out of order")
				last = id
			}
			for n := range put {
				if id := fmt.Sprintf("%03d", n+1); !dead[target+id] {
					require.Contains(t, heard[target], id, "lost")
				}
			}
		}
	})
}

// Of how an alarm stands only the newest word is kept once it has arrived, and a target that is back does not wait out the
// pause that its absence has brought.
func TestHowAnAlarmStands(t *testing.T) {
	d := newDrawer()
	b := open(t, d, "mqtt")
	stands := func(id string) outbox.Letter {
		l := letter(id, finding.Plan)
		l.Kind, l.Alarm = outbox.Standing, &alarm.Alarm{ID: "a"}
		return l
	}
	require.NoError(t, b.Put([]outbox.Letter{stands("first"), stands("second")}, "mqtt"))
	it, ok := b.Waiting("mqtt")
	require.True(t, ok)
	require.NoError(t, b.Failed(it.Number, 0, noon, errAway))
	_, _, ok = b.Next("mqtt", 0, true, time.Hour)
	assert.False(t, ok, "it pauses")
	for _, id := range []string{"first", "second"} {
		it, ok = b.Waiting("mqtt")
		require.True(t, ok)
		assert.Equal(t, id, it.Letter.ID)
		require.NoError(t, b.Sent(it.Number, noon))
	}
	_, ok = b.Waiting("mqtt")
	assert.False(t, ok)
	require.NoError(t, b.Tidy(noon.Add(time.Minute)))
	require.Len(t, b.All(), 1)
	assert.Equal(t, "second", b.All()[0].Letter.ID)
	require.NoError(t, b.Put([]outbox.Letter{stands("second")}, "mqtt"))
	_, ok = b.Waiting("mqtt")
	assert.False(t, ok, "the same state is known")
}
