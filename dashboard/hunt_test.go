package dashboard

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/shop"
)

// step is the large sentence of the hunt's page, and the page as a whole.
func step(t *testing.T, f *fake) (string, string) {
	t.Helper()
	w := get(t, f.handler(t), "/hunt")
	require.Equal(t, http.StatusOK, w.Code)
	page := w.Body.String()
	_, rest, _ := strings.Cut(page, `<strong class="hunt-do" data-say>`)
	do, _, _ := strings.Cut(rest, "<")
	return do, page
}

// TestAHuntLeadsOneStepAtATime from the beginning to a place to look.
func TestAHuntLeadsOneStepAtATime(t *testing.T) {
	do, page := step(t, huntingFake(false, 0, "tenoner"))
	assert.Equal(t, "Begin when every machine stands still.", do)
	assert.Contains(t, page, "only panel saw gate open, for 3\u00a0min of steady air")
	assert.Contains(t, page, "Begin the hunt")
	assert.Contains(t, page, `name="idle" value="yes" required`)
	assert.Contains(t, page, "trunk should read 14 Pa otherwise")
	assert.Contains(t, page, "Nine times in ten it is at one of 4 places.")
	assert.Contains(t, page, "move the gates that are named and open nothing else", "the cautions of a test")

	do, page = step(t, huntingFake(true, 0, "tenoner", "edge sander"))
	assert.Equal(t, "Move these, and nothing else.", do)
	opens, shuts := strings.Index(page, "<strong>open</strong> panel saw gate"), strings.Index(page, "<strong>shut</strong> tenoner gate")
	assert.True(t, 0 < opens && opens < shuts, "first open, then shut: fewer gates than in the test are never open")
	assert.Contains(t, page, "<strong>shut</strong> edge sander gate")
	assert.Contains(t, page, "no test while a machine cuts")
	assert.Contains(t, page, "End the hunt")
	assert.NotContains(t, page, "Begin the hunt")

	f := huntingFake(true, 0, "panel saw")
	f.collector().Now.FanOn = false
	do, _ = step(t, f)
	assert.Equal(t, "Start the fan.", do)

	do, page = step(t, huntingFake(true, 0, "panel saw"))
	assert.Equal(t, "Leave everything as it is.", do)
	assert.Contains(t, page, "The air is coming to rest.")
	do, page = step(t, huntingFake(true, 80*time.Second, "panel saw"))
	assert.Equal(t, "Leave everything as it is.", do)
	assert.Contains(t, page, "1\u00a0min 20\u00a0s of 3\u00a0min measured.")
	assert.Contains(t, page, `<progress max="180" value="80"`)
	_, page = step(t, huntingFake(true, 200*time.Second, "panel saw"))
	assert.Contains(t, page, "Enough is measured.")

	f = huntingFake(true, 200*time.Second, "panel saw")
	f.collector().NextTest = nil
	f.collector().Findings[0].Where = []finding.Place{{Part: "run:trunk 5", Probability: 0.94}, {Part: "other", Probability: 0.06}}
	do, page = step(t, f)
	assert.Equal(t, "Look here: Seam of trunk 5.", do)
	assert.Contains(t, page, "re-seal", "what to do")
	assert.Contains(t, page, "First isolate and lock out the fan", "the cautions of looking")
	assert.Contains(t, page, "Write down what was done")
	assert.Contains(t, page, "Nine times in ten it is at one place.")
}

// TestAHuntWaitsForWhatItNeeds, and says for what.
func TestAHuntWaitsForWhatItNeeds(t *testing.T) {
	f := huntingFake(true, 0, "panel saw")
	f.collector().NextTest.Tests = nil
	f.collector().NextTest.Reason = "No set of gates would part these places with the sensors fitted."
	do, page := step(t, f)
	assert.Equal(t, "Look here first: Seam of trunk 5.", do)
	assert.Contains(t, page, "No set of gates would part these places")

	f = huntingFake(true, 0, "panel saw")
	f.collector().NextTest.Tests = nil
	f.collector().NextTest.Suspects = []finding.Place{
		{Part: "run:trunk 5", Members: []string{"run:trunk 5", "run:trunk 6"}, Probability: 0.55}, {Part: "run:trunk 4", Probability: 0.4}}
	do, page = step(t, f)
	assert.Equal(t, "Look here first: Seam of trunk 4.", do, "one look before two")
	assert.Less(t, strings.Index(page, "40 %"), strings.Index(page, "55 %"))

	f = huntingFake(true, 0, "panel saw")
	for i := range f.collector().Sensors {
		f.collector().Sensors[i].At = testNow.Add(-time.Hour)
	}
	do, _ = step(t, f)
	assert.Equal(t, "Wait: the readings are old.", do)

	f = huntingFake(true, 0, "panel saw")
	delete(f.latest, "gate/band saw gate")
	do, page = step(t, f)
	assert.Equal(t, "Say where these stand.", do)
	assert.Contains(t, page, "band saw gate")
	assert.Contains(t, page, `href="/sensors">Go there</a>`)

	f = huntingFake(true, 0, "panel saw")
	f.collector().Baseline.Complete = false
	do, _ = step(t, f)
	assert.Equal(t, "There is no baseline yet.", do)

	f = huntingFake(false, 0)
	f.collector().NextTest, f.collector().Findings = nil, nil
	do, page = step(t, f)
	assert.Equal(t, "There is nothing to hunt for.", do)
	assert.NotContains(t, page, "Begin the hunt")

	f.snap = nil
	_, page = step(t, f)
	assert.Contains(t, page, "Nothing has been measured yet.")
}

// TestAGateThatIsSetByHandIsToldFromTheHunt, and the page is there again afterwards.
func TestAGateThatIsSetByHandIsToldFromTheHunt(t *testing.T) {
	f := huntingFake(true, 0, "tenoner")
	for _, g := range f.shop.Collectors[0].Gates {
		g.Position = &shop.Source{Kind: shop.SourceByHand}
	}
	_, page := step(t, f)
	assert.Contains(t, page, `<input type="hidden" name="channel" value="gate/panel saw gate"><button name="value" value="1">Done</button>`)
	assert.Contains(t, page, `<input type="hidden" name="channel" value="gate/tenoner gate"><button name="value" value="0">Done</button>`)
}

// hunt posts the form of a hunt.
func hunt(t *testing.T, f *fake, form url.Values) *httptest.ResponseRecorder {
	t.Helper()
	r := httptest.NewRequest("POST", "/api/v1/hunt", strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	f.handler(t).ServeHTTP(w, r)
	return w
}

// TestAHuntBeginsAndEndsInTheLogbook, and does not begin while a machine cuts or nothing can be tested.
func TestAHuntBeginsAndEndsInTheLogbook(t *testing.T) {
	f := huntingFake(false, 0, "tenoner")
	before := len(f.entries)
	begin := url.Values{"collector": {"main"}, "do": {"begin"}, "by": {"M. Hale"}, "idle": {"yes"}}
	w := hunt(t, f, begin)
	assert.Equal(t, http.StatusSeeOther, w.Code)
	assert.Equal(t, "/hunt", w.Header().Get("Location"))
	require.Len(t, f.entries, before+1)
	assert.Equal(t, journal.Entry{Time: testNow, Kind: journal.LeakHunt, Subject: "main", Note: "Every machine stands still.", By: "M. Hale"}, f.entries[before])
	w = hunt(t, f, url.Values{"collector": {"main"}, "do": {"end"}, "by": {"M. Hale"}})
	assert.Equal(t, http.StatusSeeOther, w.Code)
	assert.Equal(t, journal.LeakHuntEnded, f.entries[before+1].Kind)

	busy := url.Values{"collector": {"main"}, "do": {"begin"}, "by": {"M. Hale"}}
	w = hunt(t, f, busy)
	assert.Equal(t, http.StatusSeeOther, w.Code)
	assert.Contains(t, w.Header().Get("Location"), "/hunt?problem=")
	assert.Contains(t, get(t, f.handler(t), w.Header().Get("Location")).Body.String(), "no test while a machine cuts")

	for name, form := range map[string]url.Values{"no name": {"collector": {"main"}, "do": {"begin"}, "idle": {"yes"}},
		"no collector": {"collector": {"attic"}, "do": {"begin"}, "by": {"M. Hale"}}, "neither": {"collector": {"main"}, "do": {"pause"}, "by": {"M. Hale"}}} {
		assert.Equal(t, http.StatusBadRequest, hunt(t, f, form).Code, name)
	}
	f.collector().NextTest = nil
	assert.Contains(t, hunt(t, f, begin).Header().Get("Location"), "no+test+would+tell")
	assert.Len(t, f.entries, before+2, "nothing more was written")

	r := httptest.NewRequest("POST", "/api/v1/hunt", strings.NewReader(`{"collector": "main", "do": "begin", "by": "M. Hale", "idle": true}`))
	r.Header.Set("Content-Type", "application/json")
	j := httptest.NewRecorder()
	f.handler(t).ServeHTTP(j, r)
	assert.Equal(t, http.StatusConflict, j.Code, j.Body.String())
}

// TestChecksAreAskedForWhereTheyAreDue: on the first page those that are due, on the hunt's page all.
func TestChecksAreAskedForWhereTheyAreDue(t *testing.T) {
	f := huntingFake(false, 0, "tenoner")
	now := get(t, f.handler(t), "/").Body.String()
	assert.Contains(t, now, "Checks that are due")
	assert.Contains(t, now, "due since yesterday 08:05")
	assert.Contains(t, now, "open only panel saw gate, its hood and hose as always, for 2\u00a0min. That tells the new leakage in all to ± 24\u00a0m³/h. With every gate shut it would be ± 4\u00a0m³/h, but the ducts are not known to bear that.")
	assert.NotContains(t, now, "Weekly walk")
	assert.Contains(t, get(t, f.handler(t), "/leaks").Body.String(), `href="/hunt">Hunt for it, test by test</a>`)
	assert.NotContains(t, get(t, newFake().handler(t), "/leaks").Body.String(), "Hunt for it")
	_, page := step(t, f)
	assert.Contains(t, page, "Weekly walk through the gates")
	assert.NotContains(t, get(t, newFake().handler(t), "/").Body.String(), "Checks that are due")
}

// TestNextTestAndChecksAsJSON.
func TestNextTestAndChecksAsJSON(t *testing.T) {
	c := at(object(t, huntingFake(true, 80*time.Second, "tenoner").handler(t), "/api/v1/state"), "collectors", 0)
	assert.Equal(t, "main/growing-leak/1", at(c, "next_test", "finding"))
	assert.InDelta(t, 180, at(c, "next_test", "tests", 0, "duration_s"), 0)
	assert.Equal(t, []any{"panel saw gate"}, at(c, "next_test", "tests", 0, "open"))
	assert.Equal(t, true, at(c, "leak_hunt"))
	assert.InDelta(t, 80, at(c, "steady_s"), 0)
	assert.Equal(t, "reference", at(c, "checks", 0, "kind"))
	assert.InDelta(t, 24.0/3600, at(c, "checks", 0, "new_leakage_m3_s_sd"), 1e-12)
	assert.Nil(t, at(c, "checks", 1, "new_leakage_m3_s_sd"))
	assert.Nil(t, at(object(t, newFake().handler(t), "/api/v1/state"), "collectors", 0, "next_test"))
}
