package daemon

import (
	"context"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/watch"
)

// askKnown lets the test hear of what Config.Known tells.
func askKnown(cfg *Config) chan struct{} {
	known := make(chan struct{}, 8)
	cfg.Known = func() { known <- struct{}{} }
	return known
}

func TestItIsToldOnceWhenThereIsSomethingToShow(t *testing.T) {
	cfg := smallConfig(t, newBoard())
	seen, known := spyOn(t, &cfg), askKnown(&cfg)
	seen.past = make(chan struct{})
	r := start(t, cfg)
	eventually(t, "readings while the past is read", func() bool { return seen.have("main/trunk") > 20 })
	assert.Nil(t, view{r.d.open.fold}.Snapshot())
	assert.Empty(t, known, "there is nothing to show yet")
	close(seen.past)
	<-known
	assert.NotNil(t, view{r.d.open.fold}.Snapshot())
	before := seen.have("main/trunk")
	eventually(t, "some time later", func() bool { return seen.have("main/trunk") > before+30 })
	require.NoError(t, r.end())
	assert.Empty(t, known, "told once")
}

func TestWhoStopsWhileThePastIsReadWaitsForNothing(t *testing.T) {
	cfg := smallConfig(t, newBoard())
	seen, known := spyOn(t, &cfg), askKnown(&cfg)
	seen.past = make(chan struct{})
	r := start(t, cfg)
	eventually(t, "readings", func() bool { return seen.have("main/trunk") > 5 })
	require.NoError(t, r.end(), "although the past has no end")
	assert.Empty(t, known)
	assert.Len(t, storedReadings(t, reopened(t, cfg.DataDir)), len(seen.appended), "what was read is stored")
}

func TestAfterHistoryItIsKnownAtOnce(t *testing.T) {
	l := liveFor(t, 50, false)
	l.d.cfg.pace = quick
	ctx, stop := context.WithCancel(context.Background())
	var last *watch.Snapshot
	l.d.cfg.Known = func() { last = view{l.d.open.fold}.Snapshot(); stop() }
	require.NoError(t, l.d.Run(ctx))
	require.NotNil(t, last)
	assert.NotEmpty(t, last.Collectors[0].Days)
}

func TestAGateThatIsSetOnTheDashboardReachesStoreAndWatch(t *testing.T) {
	cfg := smallConfig(t, newBoard())
	known := askKnown(&cfg)
	r := start(t, cfg)
	<-known
	set := func(body string) int {
		answer, err := http.Post("http://"+r.address+"/api/v1/positions", "application/json", strings.NewReader(body))
		require.NoError(t, err)
		require.NoError(t, answer.Body.Close())
		return answer.StatusCode
	}
	latest := func() float64 { return r.d.open.store.Latest()["gate/lathe gate"].Value }
	open := func() []string { return view{r.d.open.fold}.Snapshot().Collectors[0].Now.Open }
	require.Equal(t, http.StatusOK, set(`{"channel": "gate/lathe gate", "value": 1}`))
	assert.InDelta(t, 1, latest(), 0, "stored when the answer comes, so that the next page shows it")
	eventually(t, "the watch sees it open", func() bool { return len(open()) == 1 && open()[0] == "lathe gate" })
	require.Equal(t, http.StatusOK, set(`{"channel": "gate/lathe gate", "value": 0}`))
	assert.InDelta(t, 0, latest(), 0)
	eventually(t, "the watch sees it shut", func() bool { return len(open()) == 0 })
	assert.Equal(t, http.StatusBadRequest, set(`{"channel": "gate/saw gate", "value": 1}`), "this one tells by itself")
	require.NoError(t, r.end())
	http.DefaultClient.CloseIdleConnections()
}
