package daemon

import (
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"ductward/dashboard"
	"ductward/internal/alarm"
	"ductward/internal/reading"
	"ductward/internal/shop"
	"ductward/internal/store"
	"ductward/internal/watch"
)

// still is a watch that knows nothing and a bell that never rings.
type still struct{ dashboard.Alarms }

func (still) Snapshot() *watch.Snapshot { return nil }
func (still) List() []alarm.Alarm       { return nil }

// yearShop has sixteen pressures.
func yearShop() *shop.Shop {
	s := smallShop()
	c := s.Collectors[0]
	c.Sensors = nil
	for i := range 16 {
		c.Sensors = append(c.Sensors, &shop.Sensor{Name: fmt.Sprintf("tap %d", i), Measures: shop.StaticPressure, Interval: time.Second})
	}
	return s
}

// fillYear writes a year of them, a boot a day: at 1 Hz for the two hours of each day in which the fan runs, and once a minute
// otherwise, as the daemon keeps a fan's rest. Charts of months are made of roll-ups, which are as many whatever is in them.
func fillYear(b *testing.B, st *store.Store, s *shop.Shop) {
	rng := rand.New(rand.NewPCG(1, 16))
	require.NoError(b, st.Bulk(true))
	row := make([]reading.Reading, 16)
	var seq uint64
	for day := range 365 {
		boot, err := st.NewBoot()
		require.NoError(b, err)
		require.NoError(b, st.PlaceBoot(boot, monday.AddDate(0, 0, day)))
		for second := 0; second < 86400; {
			on := second >= 8*3600 && second < 10*3600
			for i, x := range s.Collectors[0].Sensors {
				seq++
				v := math.Round(rng.NormFloat64()*30) / 60
				if on {
					v -= 1500
				}
				row[i] = reading.Reading{Channel: "main/" + x.Name, Value: v, SD: math.NaN(), Boot: boot, Mono: time.Duration(second) * time.Second, Seq: seq}
			}
			require.NoError(b, st.Append(row))
			if second++; !on {
				second += 59
			}
		}
	}
	require.NoError(b, st.Bulk(false))
	require.NoError(b, st.Commit())
	b.Logf("%d readings", seq)
}

// BenchmarkHistoryOfAYear asks for a year of sixteen channels: the charts' data as the script draws them, one a channel, and the
// whole page with its still pictures and tables.
func BenchmarkHistoryOfAYear(b *testing.B) {
	st, err := store.Open(b.TempDir(), store.Options{})
	require.NoError(b, err)
	defer func() { require.NoError(b, st.Close()) }()
	s := yearShop()
	fillYear(b, st, s)
	clk := newFastClock(monday.AddDate(1, 0, 0))
	h, err := dashboard.New(dashboard.Config{Shop: s, Watch: still{}, Readings: record{st}, Journal: kept{st}, Alarms: still{}, Clock: clk})
	require.NoError(b, err)
	q := url.Values{"from": {monday.Format("2006-01-02T15:04:05")}, "to": {monday.AddDate(1, 0, 0).Format("2006-01-02T15:04:05")}}
	ask := func(b *testing.B, path string) string {
		w := httptest.NewRecorder()
		h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, path+"?"+q.Encode(), nil))
		require.Equal(b, http.StatusOK, w.Code, w.Body.String())
		return w.Body.String()
	}
	b.Run("a chart", func(b *testing.B) {
		for i := 0; b.Loop(); i++ {
			q["ch"] = []string{"main/" + s.Collectors[0].Sensors[i%16].Name}
			ask(b, "/charts/channel")
		}
	})
	b.Run("a page of eight", func(b *testing.B) { // as many as one page shows
		q["ch"] = nil
		for _, x := range s.Collectors[0].Sensors[:8] {
			q["ch"] = append(q["ch"], "main/"+x.Name)
		}
		require.Equal(b, 8, strings.Count(ask(b, "/history"), "data-chart="))
		for b.Loop() {
			ask(b, "/history")
		}
	})
}

// kept is the journal of a store that nothing else writes.
type kept struct{ *store.Store }
