package daemon

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
	"ductward/internal/outbox"
	"ductward/internal/shop"
)

// posts is an HTTP receiver that keeps what it is given, and is away when the test says so.
type posts struct {
	mu    sync.Mutex
	away  bool
	heard []map[string]any
	ids   map[string]int
}

func (p *posts) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.away {
		w.WriteHeader(http.StatusServiceUnavailable)
		return
	}
	body, _ := io.ReadAll(r.Body)
	var got struct {
		Type string
		Data map[string]any
	}
	if err := json.Unmarshal(body, &got); err != nil {
		w.WriteHeader(http.StatusBadRequest)
		return
	}
	got.Data["type"] = got.Type
	p.ids[r.Header.Get("webhook-id")]++
	p.heard = append(p.heard, got.Data)
}

func (p *posts) setAway(away bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.away = away
}

// of returns the letters of a type that have come.
func (p *posts) of(kind outbox.Kind) (out []map[string]any) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, d := range p.heard {
		if d["type"] == string(kind) {
			out = append(out, d)
		}
	}
	return out
}

// events lists what was told of alarms whose text has these words.
func (p *posts) events(words string) (out []string) {
	for _, d := range p.of(outbox.Alarm) {
		if strings.Contains(d["text"].(string), words) {
			out = append(out, d["event"].(string))
		}
	}
	return out
}

const lostWords = "main/filter drop"

// tellingConfig is a small shop that tells one receiver.
func tellingConfig(t *testing.T, b *board) (Config, *posts) {
	t.Helper()
	p := &posts{ids: map[string]int{}}
	s := httptest.NewServer(p)
	t.Cleanup(s.Close)
	secret := filepath.Join(t.TempDir(), "secret")
	require.NoError(t, os.WriteFile(secret, []byte("beech-and-walnut-and-oak"), 0o600))
	cfg := smallConfig(t, b)
	cfg.Shop.Outbound = shop.Outbound{Webhooks: []*shop.Webhook{{Name: "office", URL: s.URL, Secret: shop.Secret{File: secret}}},
		Daily: 450, Weekly: shop.Weekly{Day: time.Monday, At: 450}, GiveUp: time.Hour}
	return cfg, p
}

// answered is what is logged of a letter about an alarm's begin whose answer has come.
var answered = regexp.MustCompile(`msg=told .*\.raised`)

func TestAlarmsReachTheirTargetOnce(t *testing.T) {
	b := newBoard()
	cfg, p := tellingConfig(t, b)
	r := start(t, cfg)
	eventually(t, "a sign of life", func() bool { return len(p.of(outbox.Heartbeat)) == 1 })
	b.unplug("t/filter")
	eventually(t, "the alarm", func() bool { return len(p.events(lostWords)) == 1 })
	// a letter whose answer is cut off by the stop is sent again, under the same number
	eventually(t, "its answer", func() bool { return answered.MatchString(r.log.String()) })
	require.NoError(t, r.end())

	r = start(t, cfg) // the sensor is still lost
	eventually(t, "readings again", func() bool { return r.d.running.Load() != nil && r.d.running.Load().fold.snapshot.Load() != nil })
	b.set("t/filter", 0.5)
	eventually(t, "that it is over", func() bool { e := p.events(lostWords); return len(e) > 0 && e[len(e)-1] == string(alarm.Cleared) })
	require.NoError(t, r.end())
	assert.Equal(t, []string{"raised", "cleared"}, p.events(lostWords), "a restart repeats nothing and loses nothing")
	assert.Len(t, p.of(outbox.Heartbeat), 1, "one a day")
	for id, n := range p.ids {
		assert.Equal(t, 1, n, id)
	}
}

func TestATargetThatIsAwayIsToldInOrderLater(t *testing.T) {
	b := newBoard()
	cfg, p := tellingConfig(t, b)
	p.setAway(true)
	seen := spyOn(t, &cfg)
	r := start(t, cfg)
	b.unplug("t/filter")
	eventually(t, "an alarm that nobody hears", func() bool { return seen.states(lostFilter)[alarm.ActiveUnacknowledged] == 1 })
	eventually(t, "an alarm that says so", func() bool { return seen.states("/delivery-failing/webhook/office")[alarm.ActiveUnacknowledged] == 1 })
	b.set("t/filter", 0.5)
	eventually(t, "it is over", func() bool { return seen.states(lostFilter)[alarm.ClearedUnacknowledged] == 1 })
	require.NoError(t, r.end())
	assert.Empty(t, p.events(lostWords))

	p.setAway(false)
	r = start(t, cfg)
	eventually(t, "both after all", func() bool { return len(p.events(lostWords)) == 2 })
	require.NoError(t, r.end())
	assert.Equal(t, []string{"raised", "cleared"}, p.events(lostWords))
	assert.NotContains(t, r.log.String(), "beech")
}

func TestQuietHoursHoldAnInstrumentBack(t *testing.T) {
	b := newBoard()
	cfg, p := tellingConfig(t, b)
	cfg.Shop.Outbound.Quiet = &shop.Quiet{From: 0, To: 23 * 60}
	seen := spyOn(t, &cfg)
	r := start(t, cfg)
	b.unplug("t/filter")
	eventually(t, "the alarm", func() bool { return seen.states(lostFilter)[alarm.ActiveUnacknowledged] == 1 })
	eventually(t, "a sign of life", func() bool { return len(p.of(outbox.Heartbeat)) == 1 })
	assert.Empty(t, p.events(lostWords))
	require.NoError(t, r.end())
	cfg.Shop.Outbound.Quiet = nil
	r = start(t, cfg)
	eventually(t, "told in the morning", func() bool { return len(p.events(lostWords)) == 1 })
	require.NoError(t, r.end())
}

func TestASecretThatCannotBeReadStopsTheStart(t *testing.T) {
	cfg, _ := tellingConfig(t, newBoard())
	cfg.Shop.Outbound.Webhooks[0].Secret.File = filepath.Join(t.TempDir(), "none")
	d, err := New(cfg)
	require.NoError(t, err)
	err = d.Run(t.Context())
	require.ErrorContains(t, err, "webhook/office")
}

func TestTheWeekIsToldOnceItIsOver(t *testing.T) {
	cfg, p := tellingConfig(t, newBoard())
	clk := newFastClock(monday)
	cfg.Clock = clk
	r := start(t, cfg)
	eventually(t, "a sign of life", func() bool { return len(p.of(outbox.Heartbeat)) == 1 })
	assert.Empty(t, p.of(outbox.Digest), "there is no week yet")
	clk.set(monday.AddDate(0, 0, 7).Add(time.Hour), true)
	eventually(t, "the digest", func() bool { return len(p.of(outbox.Digest)) == 1 })
	eventually(t, "the next sign of life", func() bool { return len(p.of(outbox.Heartbeat)) == 2 })
	require.NoError(t, r.end())
	text := p.of(outbox.Digest)[0]["text"].(string)
	assert.Contains(t, text, "What was done\n- Nothing was written down.")
	assert.Contains(t, text, "not a safety instrument")
}
