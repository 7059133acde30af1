package dashboard

import (
	"net/http"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/estimate"
	"ductward/internal/journal"
	"ductward/internal/shop"
)

func TestSetupShowsTheBaselineAndItsVersions(t *testing.T) {
	page := get(t, newFake().handler(t), "/setup").Body.String()
	assert.Contains(t, page, "Version 2 of the baseline holds, taken")
	assert.Contains(t, page, "nobody has accepted it yet.")
	assert.Contains(t, page, "Reject it: go back to version 1")
	assert.Contains(t, page, "<dt>Left out</dt><dd>three runs", "they read as with another gate open than told")
	assert.Contains(t, page, "by R. Okafor")
	assert.Contains(t, page, "<option>1</option>", "the older one can hold again")
	assert.NotContains(t, page, "<option>2</option>", "the one that holds need not")
	worst := strings.Index(page, testMachines[6].name+" gate</th>")
	require.Positive(t, worst)
	assert.Less(t, worst, strings.Index(page, "every gate shut</th>"), "the set furthest from the model stands first")
	assert.Contains(t, page, "−8.3 ± 0.4\u00a0%")
	assert.Contains(t, page, "The other 2 gate sets")
	assert.Contains(t, page, ">not read<", "a sensor that was silent in a set has no figure there")
	assert.Contains(t, page, `<a href="/setup" aria-current="page">Set-up</a>`)
	assert.Contains(t, get(t, newFake().handler(t), "/setup/baseline").Body.String(), `<a href="/setup" aria-current="page">Set-up</a>`)
}

func TestSetupTellsARejectedBaselineThatStillHolds(t *testing.T) {
	f := newFake()
	b := &f.snap.Collectors[0].Baseline
	b.Versions[1].Rejected, b.Versions[1].RejectedBy, b.Asked.Back = testNow, "Ann", 1
	page := get(t, f.handler(t), "/setup").Body.String()
	assert.Contains(t, page, "; it has been rejected.")
	assert.Contains(t, page, "holds, rejected today by Ann")
	assert.Contains(t, page, "Version 1 will hold again when the next day’s work begins.")
	assert.NotContains(t, page, `value="accept"`, "the word has been said")
	b.Asked = estimate.Change{New: true}
	page = get(t, f.handler(t), "/setup").Body.String()
	assert.Contains(t, page, "A new baseline has been asked for.")
	assert.Contains(t, page, "Go on with the walk through the gates")
}

func TestSetupShowsHowThePromiseIsKept(t *testing.T) {
	f := newFake()
	f.snap.Collectors[0].Baseline.To = testNow.AddDate(0, 0, -40)
	page := get(t, f.handler(t), "/setup").Body.String()
	assert.Contains(t, page, "At most one false alarm a year is promised")
	assert.Contains(t, page, "from 4.9 standard errors on")
	assert.Contains(t, page, "<dt>Days watched</dt><dd>118 days")
	assert.Contains(t, page, "<dt>Told in them</dt><dd>one change", "the growing leak")
	assert.Contains(t, page, "<dt>Runs within a day</dt><dd>1.10 times")       // √1.21
	assert.Contains(t, page, "<dt>Every error is widened by</dt><dd>9\u00a0%") // √1.19
	assert.Contains(t, page, "<dt>Taken on trust</dt><dd>8\u00a0%")            // 10/128
	f.snap.Collectors[0].Promise = nil
	assert.NotContains(t, get(t, f.handler(t), "/setup").Body.String(), `id="promise"`)
}

func TestSetupShowsTheShopFileWithItsWarnings(t *testing.T) {
	data, err := os.ReadFile("../testdata/shops/smallest.yaml")
	require.NoError(t, err)
	text := strings.Replace(string(data), "\n", "\n# <script>\n", 1)
	sh, problems := shop.Parse("smallest.yaml", []byte(text))
	require.NoError(t, shop.Errors(problems))
	f := &fake{shop: sh, empty: true}
	page := get(t, f.handler(t), "/setup").Body.String()
	assert.Contains(t, page, `<li id="L2" value="2"><code># &lt;script&gt;</code></li>`)
	assert.Equal(t, strings.Count(strings.TrimRight(text, "\n"), "\n")+1, strings.Count(page, `<li id="L`))
	for _, p := range problems {
		assert.Contains(t, page, p.Text[:20])
	}
	assert.Contains(t, page, "Nothing is known yet")
	assert.Contains(t, page, ">lacking</td>")

	long := readShopFile(&shop.Shop{Path: "x.yaml", Raw: []byte("shop: x\n" + strings.Repeat("# long\n", mostFile))})
	assert.True(t, long.Cut)
	assert.Less(t, len(long.Lines), 10, "only what was warned of")
}

func TestWarningsLeadToTheirLines(t *testing.T) {
	sh := &shop.Shop{Path: "a.yaml", Raw: []byte("shop: A\ncollectors:\n  - collector: main\n    spare: 3\n")}
	f := readShopFile(sh)
	require.NotEmpty(t, f.Warnings)
	for _, w := range f.Warnings {
		assert.True(t, f.Lines[w.Line-1].Noted, "line %d", w.Line)
	}
}

func TestTheWalkShowsOneStep(t *testing.T) {
	f := scenes()["walk"]
	page := get(t, f.handler(t), "/setup/baseline?c=main").Body.String()
	assert.Contains(t, page, "Walk through the gates: 1 of")
	assert.Contains(t, page, "1 of 5 working days and 12 of 40 steady runs")
	assert.Contains(t, page, "steady for 65 s: wait for 2 min")
	assert.Contains(t, page, "not proposed: the suction may exceed what the ducts are rated for")
	assert.Contains(t, page, "No machine may cut")
	assert.Contains(t, page, "Give this baseline up")
	n := &f.snap.Collectors[0].Now
	n.Stands = stepTime
	assert.Contains(t, get(t, f.handler(t), "/live/walk?c=main").Body.String(), "<h2>Next: "+testMachines[2].name+" alone</h2>", "long enough")
	n.Settled = false
	assert.Contains(t, get(t, f.handler(t), "/live/walk?c=main").Body.String(), "the air is still settling")
	n.Settled, n.FanOn = true, false
	part := get(t, f.handler(t), "/live/walk?c=main").Body.String()
	assert.Contains(t, part, "The fan is off")
	assert.Contains(t, part, "Next: "+testMachines[1].name, "gates that stand so without air are not a step that is under way")

	f.snap.Collectors[0].Baseline.Walk = []estimate.Step{{Machine: "saw", Open: []string{"saw gate"}}}
	part = get(t, f.handler(t), "/live/walk?c=main").Body.String()
	assert.Contains(t, part, "rating for negative pressure is not entered")
	assert.NotContains(t, part, `aria-label="Next step"`, "nothing is proposed without a rating")
}

func TestABaselineIsALineInTheLogbook(t *testing.T) {
	f := newFake()
	h := f.handler(t)
	before := len(f.entries)
	for _, c := range []struct{ form, to, kind, note string }{
		{"action=take&by=Ann&note=new+trunk", "/setup/baseline?c=main", "baseline", "new trunk"},
		{"action=accept&version=2&by=Ann", "/setup?kept=accept", "baseline-accepted", "version 2"},
		{"action=reject&version=2&by=Ann&collector=main", "/setup?kept=reject", "baseline-rejected", "version 2"},
		{"action=restore&version=1&by=Ann&note=as+it+was", "/setup?kept=restore", "baseline-restored", "version 1: as it was"},
	} {
		w := send(h, "/api/v1/baseline", asForm, c.form)
		require.Equal(t, http.StatusSeeOther, w.Code, w.Body.String())
		assert.Equal(t, c.to, w.Header().Get("Location"))
		e := f.entries[len(f.entries)-1]
		assert.Equal(t, journal.Entry{Time: testNow, Kind: journal.Kind(c.kind), Subject: "main", Note: c.note, By: "Ann"}, e)
	}
	assert.Contains(t, get(t, h, "/setup?kept=restore").Body.String(), "Written down: older baseline holds again.")
	w := send(h, "/api/v1/baseline", asJSON, `{"action":"accept","version":1,"by":"Ann"}`)
	assert.Equal(t, http.StatusCreated, w.Code)
	assert.Len(t, f.entries, before+5)
}

func TestABaselineIsRefusedWhereItMeansNothing(t *testing.T) {
	f := newFake()
	h := f.handler(t)
	before := len(f.entries)
	for body, want := range map[string]string{
		`{"action":"edit","by":"Ann"}`:                       `action \"edit\" is not known`,
		`{"action":"take"}`:                                  "by is empty",
		`{"action":"take","by":"Ann","collector":"annex"}`:   `collector \"annex\" is not in the shop file`,
		`{"action":"accept","version":3,"by":"Ann"}`:         "there is no version 3",
		`{"action":"restore","by":"Ann"}`:                    "there is no version 0",
		`{"action":"reject","by":"Ann"}`:                     "no baseline is in the making",
		`{"action":"accept","version":1,"by":"A","force":1}`: "unknown field",
	} {
		w := send(h, "/api/v1/baseline", asJSON, body)
		assert.Equal(t, http.StatusBadRequest, w.Code, body)
		assert.Contains(t, w.Body.String(), want, body)
	}
	assert.Equal(t, http.StatusForbidden, send(h, "/api/v1/baseline", asForm, "action=take&by=Eve", "Sec-Fetch-Site", "cross-site").Code)
	w := send(h, "/api/v1/journal", asJSON, `{"kind":"baseline-restored","by":"Ann"}`)
	assert.Contains(t, w.Body.String(), "names no version")
	assert.Len(t, f.entries, before)

	f.snap.Collectors[0].Baseline = makingBaseline()
	assert.Equal(t, http.StatusCreated, send(h, "/api/v1/baseline", asJSON, `{"action":"reject","by":"Ann"}`).Code, "the one in the making")
	f.set(nil)
	assert.Contains(t, send(h, "/api/v1/baseline", asJSON, `{"action":"take","by":"Ann"}`).Body.String(), "nothing is known")
}

func TestTheBaselineAsJSON(t *testing.T) {
	f := newFake()
	b := at(object(t, f.handler(t), "/api/v1/state"), "collectors", 0, "baseline")
	assert.InDelta(t, -0.083, at(b, "sets", 7, "sensors", 0, "misfit"), 1e-12)
	assert.Nil(t, at(b, "versions", 1, "accepted"))
	assert.Equal(t, true, at(b, "versions", 1, "stands"))
	assert.Nil(t, at(b, "version_asked"))
	assert.Equal(t, []any{}, at(b, "walk"))
	assert.InDelta(t, 4.87, at(object(t, f.handler(t), "/api/v1/state"), "collectors", 0, "promise", "threshold_sd"), 1e-12)
	b = at(object(t, scenes()["walk"].handler(t), "/api/v1/state"), "collectors", 0, "baseline")
	assert.Equal(t, false, at(b, "walk", 3, "borne"))
}

func TestTheLogbookOffersNoVerdictsWithoutTheirVersion(t *testing.T) {
	page := get(t, newFake().handler(t), "/logbook").Body.String()
	assert.Contains(t, page, `value="baseline"`)
	assert.NotContains(t, page, `value="baseline-`)
}

func TestANewBaselineBreaksTheLine(t *testing.T) {
	f := newFake()
	c := &f.snap.Collectors[0]
	s := &server{Config: f.config()}
	leak := func(d *estimate.Day) estimate.Value { return d.Leakage }
	whole := len(s.dayLine("x", c.Days, leak, hour, "m³/h").Points)
	at := len(c.Days) / 3
	for i := range c.Days {
		c.Days[i].Baseline = 1
		if i >= at {
			c.Days[i].Baseline = 2
		}
	}
	points := s.dayLine("x", c.Days, leak, hour, "m³/h").Points
	require.Len(t, points, whole+1)
	day, err := time.Parse(time.DateOnly, c.Days[at].Date)
	require.NoError(t, err)
	for _, p := range points {
		if !known(p.V) && p.At.Before(day.Add(12*time.Hour)) && p.At.After(day.Add(-12*time.Hour)) {
			return
		}
	}
	t.Error("no gap where the baseline changed")
}
