package watch

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/finding"
)

// TestOneOutageIsToldOnce: what the estimate says of a channel that it misses stands beside what its source says only where
// they are two matters.
func TestOneOutageIsToldOnce(t *testing.T) {
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	missed := func(channel string, after time.Duration) finding.Finding {
		return finding.Finding{ID: channel + after.String(), Kind: finding.SensorLost, Subject: channel, Raised: at.Add(after)}
	}
	leak := finding.Finding{ID: "leak", Kind: finding.NewLeak, Subject: "main/trunk", Raised: at.Add(time.Minute)}
	o := outages{collector: "main"}
	found := []finding.Finding{missed("main/trunk", -time.Hour), leak, missed("main/trunk", time.Hour), missed("main/filter", time.Hour)}
	assert.Equal(t, found, o.among(found), "nothing was told")

	o.begin("main/trunk", "not-answering", "no answer on the bus", at)
	ids := func() []string {
		var out []string
		for _, f := range o.among(found) {
			out = append(out, f.ID)
		}
		return out
	}
	told := "main.sensor-lost.source.main.trunk.20260302"
	assert.Equal(t, []string{"main/trunk-1h0m0s", told, "leak", "main/filter1h0m0s"}, ids(), "by the time they were raised")
	o.end("main/trunk", at.Add(30*time.Minute))
	assert.Equal(t, []string{"main/trunk-1h0m0s", told, "leak", "main/filter1h0m0s"}, ids(), "a run that ends later may have missed it")
	found[2].Raised = at.Add(2 * time.Hour)
	assert.Len(t, ids(), 5, "another matter")

	o.begin("main/trunk", "bad-crc", "checksums do not agree", at.Add(3*time.Hour))
	o.begin("main/trunk", "stuck", "the same number 600 times", at.Add(4*time.Hour))
	require.Len(t, o.told, 3)
	assert.Equal(t, told+".2", o.told[1].ID)
	assert.Equal(t, at.Add(4*time.Hour), o.told[1].Ended, "it answers, and is stuck")
	assert.Equal(t, finding.SensorStuck, o.standing("main/trunk").Kind)
}

// A bus, a plug or a broker that fails is one trouble of all the channels behind it, whichever of them is told first.
func TestChannelsThatFallSilentTogetherAreOneTrouble(t *testing.T) {
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	under := func(o *outages) map[string]string {
		out := map[string]string{}
		subject := map[string]string{}
		for _, f := range o.told {
			subject[f.ID] = f.Subject
		}
		for _, f := range o.among(nil) {
			if f.Active() {
				out[f.Subject] = subject[f.Under]
			}
		}
		return out
	}
	o := outages{collector: "main"}
	o.begin("main/trunk", "bus-locked", "the bus hangs", at)
	o.begin("main/filter", "bus-locked", "the bus hangs", at.Add(8*time.Second))
	o.begin("main/fan", "bus-locked", "the bus hangs", at.Add(20*time.Second))
	o.begin("gate/saw", "half-open", "between its contacts", at.Add(21*time.Second))
	o.begin("gate/planer", "bus-locked", "the bus hangs", at.Add(10*time.Minute))
	assert.Equal(t, map[string]string{"main/filter": "", "main/fan": "main/filter", "main/trunk": "main/filter", "gate/saw": "", "gate/planer": ""}, under(&o))
	o.end("main/filter", at.Add(time.Hour))
	assert.Equal(t, map[string]string{"main/trunk": "", "main/fan": "main/trunk", "gate/saw": "", "gate/planer": ""}, under(&o),
		"one that is back takes the others with it no longer")
}
