package daemon

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/dashboard"
	"ductward/dashboard/browsertest"
	"ductward/hardware/rig"
	"ductward/internal/clock"
	"ductward/internal/journal"
	"ductward/internal/plant"
	"ductward/internal/shop"
)

// huntWorld is a plant that works for some days, and then stands until the gates are moved by hand.
type huntWorld struct {
	plant  *plant.Plant
	work   *plant.Workdays
	clock  *clock.Virtual
	day    int
	events []plant.Event // of day that are still to come
	hand   bool
}

func (w *huntWorld) Advance(time.Duration) {
	for next := w.next(); !w.hand && !next.After(w.clock.Now()); next = w.next() {
		if len(w.events) == 0 {
			w.day++
			w.events = w.work.Day(w.day)
			continue
		}
		if err := w.plant.Apply(w.events[0]); err != nil {
			panic(err)
		}
		w.events = w.events[1:]
	}
}

// next is when something happens next, or the next day begins.
func (w *huntWorld) next() time.Time {
	if len(w.events) == 0 {
		return w.work.Date(w.day + 1)
	}
	return w.work.Date(w.day).Add(w.events[0].At)
}

func (w *huntWorld) Next() time.Duration {
	if w.hand {
		return -1
	}
	return w.clock.Mono() + w.next().Sub(w.clock.Now())
}

// hunt is a leak hunt by somebody with a phone.
type hunt struct {
	t     *testing.T
	d     *Daemon
	world *huntWorld
	url   string
	phone context.Context
}

// The leak, and the days: six of a baseline, and one with the leak.
const (
	huntLeak     = "drop:sander gate"
	huntLeakSize = 80.0 / 3600 // m³/s at the reference suction
	huntDays     = 7
	huntSeed     = 3
)

// newHunt lives through the days before the hunt, through drivers on simulated buses, and opens its page on a phone.
func newHunt(t *testing.T) *hunt {
	phone := browsertest.Tab(t)
	t.Cleanup(browsertest.Stop)
	text, err := os.ReadFile("testdata/hunt.yaml")
	require.NoError(t, err)
	s, problems := shop.Parse("hunt.yaml", text)
	require.NoError(t, shop.Errors(problems))
	c := s.Collectors[0]
	p, err := plant.New(c, s.Site, plant.DefaultOptions(huntSeed))
	require.NoError(t, err)
	o := plant.DefaultWork(huntSeed, demoBegin)
	o.Site, o.AllDays, o.Changes, o.Walk = s.Site, true, 16, true
	o.Faults = []plant.Fault{{Day: huntDays - 1, At: 5 * time.Hour, Kind: plant.LeakEvent, Name: huntLeak, Size: huntLeakSize}}
	work, err := plant.NewWorkdays(c, o)
	require.NoError(t, err)
	clk := clock.NewVirtual(demoBegin)
	buses, err := rig.New(map[string]*plant.Plant{c.Name: p}, s, clk)
	require.NoError(t, err)
	h := &hunt{t: t, world: &huntWorld{plant: p, work: work, clock: clk, events: work.Day(0)}, phone: phone}
	h.d, err = New(Config{Shop: s, DataDir: t.TempDir(), Buses: buses, Clock: clk, World: h.world, Log: quiet()})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, h.d.Close()) })
	h.live(huntDays*24*time.Hour + 8*time.Hour) // the next morning's first run ends the day that is judged
	h.world.hand = true
	p.SetFan(false)
	h.live(time.Minute)
	h.serve()
	return h
}

// serve serves the pages, which look for news more often than a person would.
func (h *hunt) serve() {
	srv := httptest.NewUnstartedServer(nil)
	cfg := pages(&h.d.cfg, h.d.open, srv.Listener.Addr())
	cfg.Refresh = 20 * time.Millisecond
	pages, err := dashboard.New(cfg)
	require.NoError(h.t, err)
	srv.Config = dashboard.NewServer(pages)
	srv.Start()
	h.t.Cleanup(srv.Close)
	h.t.Cleanup(srv.CloseClientConnections)
	h.url = srv.URL
}

// live lets time pass, and the watch hear of what was written.
func (h *hunt) live(d time.Duration) {
	h.t.Helper()
	require.NoError(h.t, h.d.History(context.Background(), h.world.clock.Now().Add(d), nil))
	h.d.open.fold.takeEntries()
	h.d.open.fold.look(h.world.clock.Mono())
}

var (
	huntDo   = regexp.MustCompile(`<strong class="hunt-do" data-say>([^<]*)`)
	huntDone = regexp.MustCompile(`<progress max="\d+" value="(\d+)"`)
)

// follow waits until the phone shows what the watch knows now, without being loaded again, and returns what is to be done.
func (h *hunt) follow() string {
	h.t.Helper()
	answer, err := http.Get(h.url + "/hunt")
	require.NoError(h.t, err)
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	require.NoError(h.t, err)
	do, done := huntDo.FindSubmatch(body), huntDone.FindSubmatch(body)
	require.NotNil(h.t, do, string(body))
	want := string(do[1])
	if done != nil {
		want += " " + string(done[1])
	}
	browsertest.Until(h.t, h.phone, fmt.Sprintf(`[document.querySelector(".hunt-do"), document.querySelector("progress")].map(e => e?.value ?? e?.textContent ?? "").join(" ").trim() === %q`, want))
	return string(do[1])
}

// move does what the page says, in its order.
func (h *hunt) move() {
	moves := browsertest.Ask[[]string](h.t, h.phone, `[...document.querySelectorAll(".moves .what")].map(e => e.textContent.trim())`)
	require.NotEmpty(h.t, moves)
	for _, m := range moves {
		verb, gate, _ := strings.Cut(m, " ")
		require.Contains(h.t, []string{"open", "shut"}, verb)
		require.NoError(h.t, h.world.plant.SetGate(gate, verb == "open"))
		h.live(10 * time.Second)
	}
}

// press fills in the form of the page and sends it.
func (h *hunt) press(button string) {
	h.t.Helper()
	script := `document.querySelectorAll(".hunt-form [type=checkbox]").forEach(e => { e.checked = true });
		document.querySelector(".hunt-form [name=by]").value = "Ada";
		document.querySelector("button[value=` + button + `]").click()`
	_, err := chromedp.Run(h.phone, chromedp.Evaluate[json.RawMessage](script+"; true"))
	require.NoError(h.t, err)
}

// TestALeakHuntFollowedToItsEnd: on a phone, step after step as the page says, on simulated buses, from a finding whose place is
// not known to a place to look at, which the logbook then has.
func TestALeakHuntFollowedToItsEnd(t *testing.T) {
	h := newHunt(t)
	_, err := chromedp.Call(h.phone, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{Width: 390, Height: 844, DeviceScaleFactor: 1, Mobile: true})
	require.NoError(t, err)
	require.NoError(t, chromedp.Do(h.phone, chromedp.Navigate(h.url+"/hunt")))
	require.Equal(t, "Begin when every machine stands still.", h.follow())
	h.press("begin")
	browsertest.Until(t, h.phone, `document.querySelector("button[value=end]") !== null && document.querySelector("button[value=begin]") === null`)
	h.live(10 * time.Second)

	started, moved := 0, 0
	do := h.follow()
	for waited := 0; !strings.HasPrefix(do, "Look here") && waited < 60; waited++ {
		switch do {
		case "Move these, and nothing else.":
			h.move()
			moved++
		case "Start the fan.":
			h.world.plant.SetFan(true)
			h.live(10 * time.Second)
			started++
		default:
			h.live(time.Minute)
		}
		do = h.follow()
	}
	require.True(t, strings.HasPrefix(do, "Look here"), do)
	assert.Positive(t, moved)
	assert.Equal(t, 1, started, "the fan is started once")
	t.Log(do)
	places := browsertest.Ask[string](t, h.phone, `document.querySelector(".suspects").textContent`)
	t.Log(places)
	assert.Contains(t, places, "Drop on the trunk side of sander gate", "the true place is among them")
	assert.Contains(t, browsertest.Ask[string](t, h.phone, `document.getElementById("live").textContent`), "lock")

	h.press("end")
	browsertest.Until(t, h.phone, `document.querySelector("button[value=end]") === null`)
	browsertest.Until(t, h.phone, `document.querySelector("a[href='/logbook#add']") !== null`)
	entries, err := h.d.open.store.Journal()
	require.NoError(t, err)
	var kinds []journal.Kind
	for _, e := range entries {
		if e.By == "Ada" {
			kinds = append(kinds, e.Kind)
		}
	}
	assert.Equal(t, []journal.Kind{journal.LeakHunt, journal.LeakHuntEnded}, kinds)
}
