package dashboard

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"ductward/internal/finding"
)

func TestASwitchThatStandsStillIsNotSilent(t *testing.T) {
	page := get(t, newFake().handler(t), "/sensors").Body.String()
	assert.Contains(t, page, "All 5 sensors are sound.")
	assert.Contains(t, page, `<td data-label="Stands">open</td>`)

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
	assert.Contains(t, page, `<span class="share">40 %</span> In four other places that are less likely`)
}

func TestGroupNames(t *testing.T) {
	assert.Equal(t, "seam of trunk 2, trunk 4 or trunk 5; past the shut gate planer",
		groupName([]string{"run:trunk 2", "run:trunk 4", "seat:planer", "run:trunk 5"}))
	assert.Equal(t, "machine side of the gate at saw", groupName([]string{"open-side:saw"}))
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
