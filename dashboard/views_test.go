package dashboard

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/watch"
)

func TestASwitchThatStandsStillIsNotSilent(t *testing.T) {
	page := get(t, newFake().handler(t), "/sensors").Body.String()
	assert.Contains(t, page, "All 5 sensors are sound.")
	assert.Contains(t, page, `<td data-label="Stands">open</td>`)
	assert.Contains(t, page, "moved once, last by 6.2\u00a0Pa, Monday 23 November")

	f := newFake()
	for i := range f.snap.Collectors[0].Sensors {
		f.snap.Collectors[0].Sensors[i].At = testNow.Add(-3 * time.Hour)
	}
	page = get(t, f.handler(t), "/sensors").Body.String()
	assert.Contains(t, page, "Not to be trusted: main/filter drop, main/trunk, main/pitot and main/air. The others are sound.")
}

func TestAMovingGateDoesNotMakeOldReadingsNew(t *testing.T) {
	f := calm()
	for i := range f.snap.Collectors[0].Sensors {
		f.snap.Collectors[0].Sensors[i].At = testNow.Add(-3 * time.Hour)
	}
	f.snap.Collectors[0].Sensors[4].At = testNow
	assert.True(t, judged(f).Stale)
}

func TestUnlikelyPlacesAreSummedUp(t *testing.T) {
	f := newFake()
	x := &f.snap.Collectors[0].Findings[2]
	x.Where = nil
	for range 10 {
		x.Where = append(x.Where, finding.Place{Part: "run:trunk 1", Probability: 0.1})
	}
	page := get(t, f.handler(t), "/findings").Body.String()
	assert.Contains(t, page, `<span class="share">40 %</span> <span>In four other places that are less likely`)
}

func TestGroupNames(t *testing.T) {
	assert.Equal(t, "seam of trunk 2, trunk 4 or trunk 5; past the shut gate planer",
		groupName([]string{"run:trunk 2", "run:trunk 4", "seat:planer", "run:trunk 5"}))
	assert.Equal(t, "machine side of the gate at saw", groupName([]string{"open-side:saw"}))
	assert.Equal(t, "between the last tap and the outlet; air that enters between filter and fan", groupName([]string{"behind-tap", "clean-side"}))
}

func TestCleaningsJoinWhatWasNoticedAndWritten(t *testing.T) {
	f := newFake()
	list := cleanings(&f.snap.Collectors[0], f.entries)
	if assert.Len(t, list, 2) {
		assert.Empty(t, list[0].by, "noticed only")
		assert.Equal(t, "M. Hale", list[1].by, "noticed, and written down an hour before")
	}
	page := get(t, f.handler(t), "/filter").Body.String()
	assert.Contains(t, page, "noticed, and written down by M. Hale")
	assert.Contains(t, page, "noticed; nobody wrote it down")
	assert.Contains(t, page, "from then on tenoner would no longer have the air it needs")
}

// TestACleaningOfTheWeekendIsOne: noticed on Monday, written down on Friday after work.
func TestACleaningOfTheWeekendIsOne(t *testing.T) {
	friday := time.Date(2026, 3, 6, 16, 30, 0, 0, time.UTC)
	c := watch.Collector{Findings: []finding.Finding{{Kind: finding.FilterCleaned, OnsetLow: friday, Onset: friday.Add(63 * time.Hour)}}}
	list := cleanings(&c, []journal.Entry{{Time: friday.Add(time.Hour), Kind: journal.FilterCleaned, By: "Ben"}})
	if assert.Len(t, list, 1) {
		assert.Equal(t, "Ben", list[0].by)
	}
}

func TestDuctsPageDrawsEveryRunWithItsFigures(t *testing.T) {
	f := newFake()
	page := get(t, f.handler(t), "/ducts").Body.String()
	assert.Contains(t, page, `<div class="sheet-box" tabindex="0" role="region"`)
	assert.NotContains(t, page, `class="drawing d-`, "one picture, not two")
	for _, r := range f.snap.Collectors[0].Now.Runs {
		assert.Contains(t, page, ">"+r.Run+" ⌀", "in the drawing")
		assert.Contains(t, page, `<th scope="row">`+r.Run+`</th>`, "in the table")
	}
	assert.Contains(t, page, ">leak? 55 %<")
	assert.Equal(t, 1, strings.Count(page, ">leak? P<"), "a gate's drop and its seat are one place")
	assert.Contains(t, page, ">leak at one of the places marked P: 10 %<")
	assert.Contains(t, page, ">short: 1\u00a0038 of 1\u00a0250\u00a0m³/h<")
	assert.Contains(t, page, "Static pressure\">−1\u00a0220\u00a0Pa</td>", "the last run's, in the digits that it deserves")
	assert.Contains(t, page, "m/s, slow · ", "where dust may settle")
}

func TestDuctsPageWithoutDrawingShowsTheEnds(t *testing.T) {
	f := newFake()
	f.shop.Collectors[0].Network = nil
	page := get(t, f.handler(t), "/ducts").Body.String()
	assert.NotContains(t, page, "sheet-box")
	assert.Contains(t, page, `class="drawing d-wide"`)
}

func TestDuctsPageWithTheFanOffSaysSo(t *testing.T) {
	f := newFake()
	f.snap.Collectors[0].Now = estimate.Now{At: testNow}
	page := get(t, f.handler(t), "/ducts").Body.String()
	assert.Contains(t, page, ">The fan is off.<")
	assert.Contains(t, page, ">no air<")
}
