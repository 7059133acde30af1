package dashboard

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/journal"
)

// object reads a JSON answer.
func object(t *testing.T, h http.Handler, path string) map[string]any {
	t.Helper()
	w := get(t, h, path)
	require.Equal(t, http.StatusOK, w.Code, w.Body.String())
	require.Equal(t, "application/json; charset=utf-8", w.Header().Get("Content-Type"))
	var out map[string]any
	require.NoError(t, json.Unmarshal(w.Body.Bytes(), &out))
	return out
}

// at walks into nested objects and lists.
func at(v any, path ...any) any {
	for _, p := range path {
		switch k := p.(type) {
		case string:
			v = v.(map[string]any)[k]
		case int:
			v = v.([]any)[k]
		}
	}
	return v
}

func TestStateAsJSON(t *testing.T) {
	o := object(t, newFake().handler(t), "/api/v1/state")
	assert.InDelta(t, 1500, at(o, "reference_suction_pa"), 0)
	c := at(o, "collectors", 0)
	assert.Equal(t, "act today", at(c, "state"))
	assert.InDelta(t, 0.83*1250/3600, at(c, "now", "machines", 2, "flow_m3_s"), 1e-12)
	assert.InDelta(t, 1250.0/3600, at(c, "now", "machines", 2, "needed_m3_s"), 1e-12)
	assert.Equal(t, "2026-12-01T14:05:09Z", at(c, "days", len(at(c, "days").([]any))-1, "cleaning_due", "date"))
	assert.Nil(t, at(c, "sensors", 3, "noise_sd"), "unknown is null")
	assert.Nil(t, at(c, "sensors", 3, "zero_at"))
	assert.Equal(t, "K", at(c, "sensors", 3, "unit"))
	assert.Nil(t, at(c, "findings", 2, "ended"))
	assert.Equal(t, []any{}, at(c, "findings", 0, "where"), "a list is never null")
	assert.InDelta(t, 0.55, at(c, "findings", 2, "where", 0, "probability"), 0)
}

func TestUnknownIsNullEverywhere(t *testing.T) {
	f := newFake()
	f.snap = faultySnapshot()
	c := at(object(t, f.handler(t), "/api/v1/state"), "collectors", 0)
	assert.Nil(t, at(c, "now", "flow_m3_s"))
	assert.Nil(t, at(c, "now", "machines", 0, "needed_m3_s"))
	assert.Nil(t, at(c, "sensors", 0, "value"))
	assert.Nil(t, at(c, "findings", 0, "size"))
	assert.Equal(t, []any{}, at(c, "days"))
	assert.Equal(t, "cannot tell", at(c, "state"))
}

func TestNothingKnownYet(t *testing.T) {
	h := (&fake{shop: testShop(), empty: true}).handler(t)
	assert.Equal(t, http.StatusServiceUnavailable, get(t, h, "/api/v1/state").Code)
	assert.Equal(t, map[string]any{"findings": []any{}}, object(t, h, "/api/v1/findings"))
	assert.Equal(t, map[string]any{"alarms": []any{}}, object(t, h, "/api/v1/alarms"))
	assert.Equal(t, map[string]any{"entries": []any{}, "head": journal.Head(nil).String()}, object(t, h, "/api/v1/journal"))
}

func TestFindingsAlarmsAndJournal(t *testing.T) {
	f := newFake()
	h := f.handler(t)
	assert.Len(t, at(object(t, h, "/api/v1/findings"), "findings"), len(f.snap.Collectors[0].Findings))
	a := object(t, h, "/api/v1/alarms")
	assert.Equal(t, "active, unacknowledged", at(a, "alarms", 0, "state"))
	assert.Nil(t, at(a, "alarms", 0, "acknowledged"))
	assert.Equal(t, "baseline", at(object(t, h, "/api/v1/journal"), "entries", 0, "kind"))
}

func TestChartAsJSON(t *testing.T) {
	h := newFake().handler(t)
	q := func(channel, from, to, n string) string {
		return "/api/v1/chart?" + url.Values{"channel": {channel}, "from": {from}, "to": {to}, "n": {n}}.Encode()
	}
	o := object(t, h, q("main/trunk", "2026-11-25T09:00:00Z", "2026-11-25T13:00:00Z", "48"))
	buckets := at(o, "buckets").([]any)
	require.Len(t, buckets, 48)
	assert.Equal(t, "Pa", o["unit"])
	assert.Equal(t, "2026-11-25T09:00:00Z", at(buckets, 0, "start"))
	assert.LessOrEqual(t, at(buckets, 0, "min"), at(buckets, 0, "mean"))
	assert.Nil(t, at(buckets, 38, "mean"), "12:10 lies in the gap")
	assert.InDelta(t, 0, at(buckets, 38, "n"), 0)
	for path, code := range map[string]int{
		q("main/none", "2026-11-25T09:00:00Z", "2026-11-25T13:00:00Z", "4"):       http.StatusNotFound,
		q("main/trunk", "2026-11-25T13:00:00Z", "2026-11-25T09:00:00Z", "4"):      http.StatusBadRequest,
		q("main/trunk", "yesterday", "2026-11-25T09:00:00Z", "4"):                 http.StatusBadRequest,
		q("main/trunk", "2026-11-25T09:00:00Z", "2026-11-25T13:00:00Z", "100000"): http.StatusBadRequest,
		q("main/trunk", "2026-11-25T09:00:00Z", "2026-11-25T13:00:00Z", "-1"):     http.StatusBadRequest,
	} {
		w := get(t, h, path)
		assert.Equal(t, code, w.Code, path)
		assert.Contains(t, w.Body.String(), `"error"`)
	}
}

func TestHistoryAsCSV(t *testing.T) {
	h := newFake().handler(t)
	w := get(t, h, "/history.csv?ch=main/trunk&ch=gate/tenoner+gate&from=2026-11-25T11:00:00Z&to=2026-11-25T13:00:00Z")
	require.Equal(t, http.StatusOK, w.Code)
	rows, err := csv.NewReader(strings.NewReader(w.Body.String())).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 1+2*defaultBuckets)
	assert.Equal(t, []string{"start", "end", "channel", "min", "mean", "max", "unit", "n"}, rows[0])
	assert.Equal(t, []string{"2026-11-25T11:00:00Z", "main/trunk", "Pa"}, []string{rows[1][0], rows[1][2], rows[1][6]})
	gaps := 0
	for _, r := range rows[1:] {
		if r[4] == "" {
			gaps++
			assert.Equal(t, "0", r[7])
		}
	}
	assert.Greater(t, gaps, 100, "the hole at noon")
	assert.Equal(t, http.StatusBadRequest, get(t, h, "/history.csv?ch=nothing").Code)
}

func TestHistoryProblemsAreSaid(t *testing.T) {
	h := newFake().handler(t)
	many := "/history?"
	for i := range maxChannels + 1 {
		many += fmt.Sprintf("&ch=gate/%s", url.QueryEscape(testMachines[i%len(testMachines)].name+" gate"))
	}
	for path, says := range map[string]string{
		many: "choose fewer", "/history?from=noon": "write it as", "/history?ch=x": "not in the shop file",
		"/history?from=2026-11-25T09:00&to=2026-11-24T09:00": "turn the two round",
	} {
		w := get(t, h, path)
		assert.Equal(t, http.StatusOK, w.Code)
		assert.Contains(t, w.Body.String(), says, path)
	}
}

func TestChartOptionsForTheScript(t *testing.T) {
	h := newFake().handler(t)
	for _, path := range []string{"/charts/filter?c=main", "/charts/leaks?c=main", "/charts/channel?ch=main/trunk&from=2026-11-25T08:00:00Z&to=2026-11-25T14:00:00Z"} {
		o := object(t, h, path)
		assert.NotEmpty(t, at(o, "series"), path)
		last := at(o, "series", len(at(o, "series").([]any))-1)
		assert.NotEmpty(t, at(last, "markLine", "data"), "%s: what happened is marked", path)
	}
	assert.Equal(t, http.StatusNotFound, get(t, h, "/charts/filter?c=other").Code)
	assert.Equal(t, http.StatusNotFound, get(t, h, "/charts/nothing").Code)
	assert.Equal(t, http.StatusBadRequest, get(t, h, "/charts/channel?ch=none").Code)
}

func TestWhatElseThePagesShow(t *testing.T) {
	_, h := richFake(t)
	c := at(object(t, h, "/api/v1/cleanings"), "cleanings", 1)
	assert.Equal(t, "M. Hale", at(c, "written_by"))
	assert.Equal(t, true, at(c, "noticed"))
	before, after := at(c, "filter_resistance_ratio_before").(float64), at(c, "filter_resistance_ratio_after").(float64)
	assert.InDelta(t, before-after, at(c, "recovered"), 1e-12)
	assert.Greater(t, at(c, "recovered_sd"), at(c, "filter_resistance_ratio_after_sd"), "two errors are more than one")

	p := at(object(t, h, "/api/v1/positions"), "positions", 0)
	assert.Equal(t, []any{"shut", "open"}, at(p, "choices"))
	assert.Nil(t, at(p, "value"))
	assert.Equal(t, "refused", at(object(t, h, "/api/v1/targets"), "targets", 1, "given_up", 0, "why"))
	assert.Equal(t, "not ok", at(object(t, h, "/api/v1/checks"), "checks", 0, "last_result"))
	assert.Nil(t, at(object(t, h, "/api/v1/checks"), "checks", 1, "last"))
	o := object(t, h, "/api/v1/shop")
	assert.Equal(t, "shop: {name: x}\n", at(o, "text"))
	assert.NotEmpty(t, at(o, "warnings"))
}
