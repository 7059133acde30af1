package daemon

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"net"
	"net/http"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/alarm"
	"ductward/internal/clock"
	"ductward/internal/reading"
	"ductward/internal/store"
)

// drawReadings draws a record in stored order: three starts of the board, sensors and switches.
func drawReadings(t *rapid.T) (out []reading.Reading) {
	for boot := uint32(1); boot <= 3; boot++ {
		mono := time.Duration(0)
		for seq := range uint64(rapid.IntRange(1, 40).Draw(t, "readings")) {
			mono += time.Duration(rapid.IntRange(0, 40).Draw(t, "s")) * time.Second
			r := reading.Reading{Boot: boot, Mono: mono, Seq: seq + 1, SD: math.NaN(), Time: monday.Add(time.Duration(boot)*time.Hour + mono),
				Channel: rapid.SampledFrom([]string{"main/trunk", "main/filter drop", "main/fan", "gate/saw gate"}).Draw(t, "channel")}
			r.Value = float64(rapid.IntRange(0, 1).Draw(t, "value"))
			out = append(out, r)
		}
	}
	return out
}

// Whoever begins again where what had been published ended makes the same packs under the same numbers, whenever that is, and
// misses none. Where a switch stands may be told once more.
func TestPacksAreTheSameWhenTheyAreMadeAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		record := drawReadings(t)
		whole := map[packID]string{}
		p := newPacker(smallShop(), root, time.Minute)
		for i := range record {
			for _, m := range p.take(&record[i]) {
				whole[idOf(t, m)] = string(m.payload)
			}
		}
		for _, m := range p.end() {
			whole[idOf(t, m)] = string(m.payload)
		}

		again := map[packID]string{}
		note := func(ms []message) {
			for _, m := range ms {
				id := idOf(t, m)
				if had, ok := again[id]; ok {
					require.Equal(t, had, string(m.payload))
				}
				again[id] = string(m.payload)
			}
		}
		p = newPacker(smallShop(), root, time.Minute)
		for i := 0; i < len(record); i++ {
			note(p.take(&record[i]))
			if !rapid.Bool().Draw(t, "starts again") {
				continue
			}
			mark := p.open()
			p = newPacker(smallShop(), root, time.Minute)
			p.goOn(mark)
			from := slices.IndexFunc(record, func(r reading.Reading) bool { return r.Boot == mark.Boot && r.Mono >= mark.Mono })
			for k := from; k <= i; k++ {
				note(p.take(&record[k]))
			}
		}
		note(p.end())
		for id, payload := range whole {
			require.Equal(t, payload, again[id], "%v", id)
		}
	})
}

// sending is a store with values that are read from it.
func sending(t *testing.T, s *store.Store, boot uint32) *values {
	t.Helper()
	clk := clock.NewVirtual(monday)
	return newValues(s, clk, newPacker(smallShop(), root, time.Minute), boot)
}

func readingAt(boot uint32, mono time.Duration, seq uint64, v float64) reading.Reading {
	return reading.Reading{Channel: "main/trunk", Boot: boot, Mono: mono, Seq: seq, Value: v, SD: math.NaN()}
}

// What is older than a week, and what has no time and is not of now, is not published.
func TestValuesAreSentAsFarBackAsIsSaid(t *testing.T) {
	s, err := store.Open(t.TempDir(), store.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { _ = s.Close() })
	var boots []uint32
	for _, at := range []time.Time{monday.Add(-mostBack - time.Hour), {}, monday.Add(-48 * time.Hour), monday.Add(-10 * time.Minute)} {
		boot, err := s.NewBoot()
		require.NoError(t, err)
		if !at.IsZero() {
			require.NoError(t, s.PlaceBoot(boot, at))
		}
		require.NoError(t, s.Append([]reading.Reading{readingAt(boot, time.Second, 1, -812.5)}))
		boots = append(boots, boot)
	}
	require.NoError(t, s.Append([]reading.Reading{readingAt(boots[0], 2*time.Hour, 2, -812.5)})) // within a week
	s.SetPublished(store.Cursor{Boot: boots[0]})
	v := sending(t, s, boots[3])
	v.settle(10 * time.Minute)
	var got []packID
	publish := func(_ context.Context, m message) error {
		got = append(got, idOf(t, m))
		return nil
	}
	require.NoError(t, v.send(t.Context(), false, publish))
	topic := root + "/main/trunk"
	assert.Equal(t, []packID{{topic, boots[0], 2}, {topic, boots[2], 1}, {topic, boots[3], 1}}, got)

	none, err := s.NewBoot() // whose clock nobody trusts
	require.NoError(t, err)
	v = sending(t, s, none)
	require.NoError(t, s.Append([]reading.Reading{readingAt(none, time.Second, 1, -1), readingAt(none, time.Hour, 2, -2)}))
	v.settle(time.Hour + time.Minute)
	got = nil
	require.NoError(t, v.send(t.Context(), false, publish))
	assert.Equal(t, []packID{{topic, none, 2}}, got, "one without a time is one of now")
}

// A start that has published nothing before begins with itself; a broker that fails in the midst gets the rest, in order; and a
// window is published once it is over, though no reading follows.
func TestValuesGoOnWhereTheBrokerFailed(t *testing.T) {
	s, err := store.Open(t.TempDir(), store.Options{})
	require.NoError(t, err)
	t.Cleanup(func() { _ = s.Close() })
	before, err := s.NewBoot()
	require.NoError(t, err)
	require.NoError(t, s.PlaceBoot(before, monday.Add(-time.Hour)))
	require.NoError(t, s.Append([]reading.Reading{readingAt(before, 0, 1, -1)}))
	boot, err := s.NewBoot()
	require.NoError(t, err)
	require.NoError(t, s.PlaceBoot(boot, monday.Add(-10*time.Minute)))
	for n := range uint64(5) {
		require.NoError(t, s.Append([]reading.Reading{readingAt(boot, time.Duration(n)*30*time.Second, n+1, -float64(n))}))
	}
	v := sending(t, s, boot)
	v.settle(2*time.Minute + 59*time.Second)
	var got []string
	fail := true
	publish := func(_ context.Context, m message) error {
		if fail = !fail; fail {
			return errors.New("the broker is away")
		}
		got = append(got, string(m.payload))
		return nil
	}
	require.Error(t, v.send(t.Context(), false, publish))
	assert.Equal(t, store.Cursor{Boot: boot, Mono: time.Minute}, s.Published(), "the first minute is out")
	require.NoError(t, v.send(t.Context(), false, publish))
	require.Len(t, got, 2, "the third minute is not over")
	assert.True(t, v.settle(3*time.Minute))
	require.Error(t, v.send(t.Context(), false, publish))
	require.NoError(t, v.send(t.Context(), false, publish))
	require.Len(t, got, 3)
	for i, want := range []string{`"v":-0.5`, `"v":-2.5`, `"v":-4}`} {
		assert.Contains(t, got[i], want)
	}
	assert.Equal(t, store.Cursor{Boot: boot, Mono: 3 * time.Minute}, s.Published())
}

// A broker that is away while one daemon runs and ends, and while the next one starts, gets every value and every state of the
// alarms of both once it is there, and nothing again at the next start. What it should get is worked out here from the record.
func TestNothingIsLostWhileTheBrokerIsAwayOverAStart(t *testing.T) {
	broker := startBroker(t)
	outside := broker.listen()
	eventually(t, "an outside client", func() bool { broker.publish("probe", "x"); return outside.on("probe") != "" })
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	away := l.Addr().String()
	require.NoError(t, l.Close())

	b := newBoard()
	cfg := smallConfig(t, b)
	cfg.Shop = publishingShop(broker)
	cfg.Shop.Outbound.MQTT.Broker = "tcp://" + away
	seen := spyOn(t, &cfg)
	r := start(t, cfg)
	for n, v := range []float64{-700, -800, -900} {
		b.set("t/trunk", v)
		b.set("t/fan", float64(n%2))
		want := seen.have("main/trunk") + 15
		eventually(t, "readings", func() bool { return seen.have("main/trunk") > want })
	}
	b.unplug("t/filter")
	eventually(t, "an alarm", func() bool { return seen.states(lostFilter)[alarm.ActiveUnacknowledged] == 1 })
	b.set("t/filter", 0.5)
	eventually(t, "it is over", func() bool { return seen.states(lostFilter)[alarm.ClearedUnacknowledged] == 1 })
	answer, err := http.Get("http://" + r.address + "/alarms")
	require.NoError(t, err)
	page, err := io.ReadAll(answer.Body)
	require.NoError(t, errors.Join(err, answer.Body.Close()))
	http.DefaultClient.CloseIdleConnections()
	assert.Contains(t, string(page), "connection refused", "a shop that tells nobody else sees how it goes with the broker")
	require.NoError(t, r.end())
	assert.Empty(t, outside.values(t))

	had := seen.have("main/trunk")
	r = start(t, cfg)
	eventually(t, "readings of the next start", func() bool { return seen.have("main/trunk") > had+5 })
	newCable(t, away, "127.0.0.1:"+broker.port)
	eventually(t, "how the alarm stands", func() bool { return outside.alarm() != "" })
	require.NoError(t, r.end())
	left, err := store.Open(cfg.DataDir, store.Options{})
	require.NoError(t, err)
	want := published(storedReadings(t, left))
	require.NoError(t, left.Close())
	got := map[packID]string{}
	for _, m := range outside.values(t) {
		if m.topic != root+"/main/estimate" {
			got[idOf(t, m)] = string(m.payload)
		}
	}
	require.Len(t, got, len(want))
	for id, v := range want {
		require.Contains(t, got[id], v, "%v", id)
	}
	alarms := outside.under(root + "/alarm/main.sensor-lost.")
	require.GreaterOrEqual(t, len(alarms), 2)
	assert.Contains(t, string(alarms[0].payload), alarm.ActiveUnacknowledged)
	assert.Contains(t, string(alarms[len(alarms)-1].payload), alarm.ClearedUnacknowledged)

	before := len(outside.values(t))
	r = start(t, cfg)
	eventually(t, "values of a third start", func() bool { return len(outside.values(t)) > before+5 })
	require.NoError(t, r.end())
	heard := map[packID]int{}
	for _, m := range outside.under(root + "/main/trunk") {
		id := idOf(t, m)
		heard[id]++
		require.Equal(t, 1, heard[id], "nothing is published again: %v", id)
	}
}

// published works out from a record what should have been published, and in which words the value stands.
func published(record []reading.Reading) map[packID]string {
	type window struct {
		channel string
		boot    uint32
		n       time.Duration
	}
	means := map[window][]reading.Reading{}
	stood := map[string]reading.Reading{}
	out := map[packID]string{}
	for _, r := range record {
		if !reading.IsSwitch(r.Channel) {
			w := window{r.Channel, r.Boot, r.Mono / quick.publish}
			means[w] = append(means[w], r)
			continue
		}
		if last, ok := stood[r.Channel]; !ok || last.Boot != r.Boot || last.Value != r.Value {
			out[packID{root + "/" + topic(r.Channel), r.Boot, r.Seq}] = fmt.Sprintf(`"vb":%t`, r.Value == 1)
		}
		stood[r.Channel] = r
	}
	for w, rs := range means {
		sum := 0.0
		for _, r := range rs {
			sum += r.Value
		}
		out[packID{root + "/" + topic(w.channel), w.boot, rs[len(rs)-1].Seq}] = fmt.Sprintf(`"v":%v`, sum/float64(len(rs)))
	}
	return out
}
