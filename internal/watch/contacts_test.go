package watch_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/caution"
	"ductward/internal/diagnosis"
	"ductward/internal/finding"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/steady"
)

// contactShop is a collector without a drawing, with a level switch, a monitor of the returned air and a scale.
func contactShop(t *testing.T) *shop.Shop {
	s := load(t, "../../testdata/shops/smallest.yaml")
	c := s.Collectors[0]
	c.Contacts = []*shop.Contact{{Name: "bin level", Tells: shop.BinFull}, {Name: "dust lamp", Tells: shop.DustInReturn}}
	c.Sensors = append(c.Sensors, &shop.Sensor{Name: "bin", Measures: shop.BinWeight, Full: 60})
	return s
}

// contactRecord is an hour in which the bin fills, dust passes the filter, and both are set right.
func contactRecord() []reading.Reading {
	var out []reading.Reading
	for i := range 3600 {
		put := func(channel string, v float64) {
			mono := time.Duration(i) * time.Second
			out = append(out, reading.Reading{Channel: channel, Value: v, Boot: 1, Mono: mono, Seq: uint64(len(out)), Time: start.Add(mono)})
		}
		if i%900 == 0 {
			put("contact/bin level", map[int]float64{900: 1, 1800: 1}[i])
			put("contact/dust lamp", map[int]float64{900: 1}[i])
		}
		put("main/trunk static", -1500)
		put("main/filter drop", 600)
		put("main/bin", 40+float64(i%2700)/100) // full after 2000 s, and emptied after 2700
	}
	return out
}

func TestFullBinsAndDustAreFound(t *testing.T) {
	w := newWatch(t, contactShop(t))
	fold(w, contactRecord())
	found := map[string]finding.Finding{}
	for _, f := range only(t, w.Snapshot()).Findings {
		assert.NotContains(t, found, f.Subject)
		found[f.Subject] = f
	}
	require.Len(t, found, 3)
	for _, c := range []struct {
		subject              string
		kind                 finding.Kind
		onset, raised, ended time.Duration
	}{
		{"contact/bin level", finding.BinFull, 900, 960, 2760},
		{"contact/dust lamp", finding.DustInReturn, 900, 930, 2400},
		{"main/bin", finding.BinFull, 2000, 2060, 2760},
	} {
		f := found[c.subject]
		assert.Equal(t, c.kind, f.Kind)
		assert.Equal(t, finding.ActToday, f.Priority, c.subject)
		for what, at := range map[time.Duration]time.Time{c.onset: f.Onset, c.raised: f.Raised, c.ended: f.Ended} {
			assert.WithinDuration(t, start.Add(what*time.Second), at, time.Second, "%s at %v s", c.subject, int64(what))
		}
		assert.NotEmpty(t, f.ConfusableWith)
		assert.Contains(t, f.Action, "Stop", "safest first")
		assert.Regexp(t, "lock(ed)? out", f.Action)
	}
	assert.Equal(t, "kg", found["main/bin"].SizeUnit)
	assert.InDelta(t, 60.6, found["main/bin"].Size, 0.1)
	assert.Equal(t, caution.RoomDust, diagnosis.Of(finding.DustInReturn).Cautions[0])
}

// TestARestartFindsTheSame: at any moment of the hour a start, from the stored runs or from a checkpoint and them, and the
// readings of the stretch that goes on, folded again, gives the same findings.
func TestARestartFindsTheSame(t *testing.T) {
	rs := contactRecord()
	whole := newWatch(t, contactShop(t))
	fold(whole, rs)
	want := only(t, whole.Snapshot()).Findings
	for _, stop := range []int{len(rs) / 5, len(rs) / 3, len(rs) / 2, len(rs) * 4 / 5} {
		before := newWatch(t, contactShop(t))
		stored := fold(before, rs[:stop])
		kept, err := before.Checkpoint()
		require.NoError(t, err)
		for _, resumed := range []bool{false, true} {
			again := newWatch(t, contactShop(t))
			if resumed {
				require.NoError(t, again.Resume(kept))
			}
			for _, r := range stored { // after a checkpoint they are told again, since none of them ends a stretch
				again.Run(r)
				assert.Equal(t, steady.Contact, r.Kind, "no run of steady air has ended yet")
			}
			state, err := again.Checkpoint()
			require.NoError(t, err)
			assert.Equal(t, kept, state, "byte by byte")
			assert.Empty(t, fold(again, rs[:stop]), "what is folded again tells nothing anew")
			fold(again, rs[stop:])
			assert.Equal(t, flat(want), flat(only(t, again.Snapshot()).Findings), "restarted at reading %d", stop)
		}
	}
}

// TestWhatIsToldAgainIsToldOnce: a start from a checkpoint tells the contacts again that came after its last run.
func TestWhatIsToldAgainIsToldOnce(t *testing.T) {
	w := newWatch(t, contactShop(t))
	runs := fold(w, contactRecord())
	want := only(t, w.Snapshot()).Findings
	require.NotEmpty(t, want)
	for _, r := range runs {
		if r.Kind == steady.Contact {
			w.Run(r)
		}
	}
	assert.Equal(t, flat(want), flat(only(t, w.Snapshot()).Findings))
}
