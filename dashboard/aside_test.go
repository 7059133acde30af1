package dashboard

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/alarm"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/outbox"
	"ductward/internal/watch"
)

// post is an outbox that the test fills.
type post struct {
	broker bool // alone
	status []outbox.Status
	items  []outbox.Item
	tests  []string
}

func (p *post) Status() []outbox.Status { return p.status }

func (p *post) Of(id string) (out []outbox.Item) {
	for _, it := range p.items {
		if it.Letter.Alarm.ID == id {
			out = append(out, it)
		}
	}
	return out
}

func (p *post) Letters() bool { return !p.broker }

func (p *post) Test(by string) { p.tests = append(p.tests, by) }

func TestAnAlarmIsPutAsideAndComesBack(t *testing.T) {
	f := newFake()
	h := f.handler(t)
	id := f.alarms[0].ID
	at := "/api/v1/alarms/" + url.PathEscape(id) + "/"
	assert.Equal(t, http.StatusBadRequest, send(h, at+"shelve", asForm, "by=Ann&hours=2").Code, "no reason")
	assert.Equal(t, http.StatusBadRequest, send(h, at+"shelve", asForm, "by=Ann&reason=x&hours=999").Code, "too long")
	assert.Equal(t, http.StatusBadRequest, send(h, at+"shelve", asForm, "reason=x&hours=2").Code, "no name")
	assert.Equal(t, http.StatusNotFound, send(h, "/api/v1/alarms/none/out", asForm, "by=Ann&reason=x").Code)
	w := send(h, at+"shelve", asForm, "by=Ann&reason=waits+for+mastic&hours=2")
	require.Equal(t, http.StatusSeeOther, w.Code, w.Body.String())
	assert.Equal(t, "/alarms?done=shelve", w.Header().Get("Location"))
	page := get(t, h, "/alarms?done=shelve").Body.String()
	assert.Contains(t, page, "by Ann: waits for mastic")
	assert.Contains(t, page, "Take off the shelf")
	assert.Contains(t, get(t, h, "/api/v1/alarms").Body.String(), `"held":true`)

	require.Equal(t, http.StatusOK, send(h, at+"unshelve", asJSON, `{"by":"Ann"}`).Code)
	assert.Equal(t, http.StatusConflict, send(h, at+"unshelve", asJSON, `{"by":"Ann"}`).Code)
	require.Equal(t, http.StatusOK, send(h, at+"out", asJSON, `{"by":"Ann","reason":"sensor away"}`).Code)
	assert.Contains(t, get(t, h, "/alarms").Body.String(), "Out of service, by Ann")
	require.Equal(t, http.StatusOK, send(h, at+"back", asJSON, `{"by":"Ann"}`).Code)
	require.Equal(t, http.StatusOK, send(h, at+"confirm", asJSON, `{"by":"Ann","found":"a hole","action":"sealed"}`).Code)
	assert.Contains(t, get(t, h, "/alarms").Body.String(), "Ann found: a hole. Done: sealed.")
}

// What a person has put aside stands on the pages, but asks nobody. What an instrument leaves untold stays untold.
func TestWhatIsPutAsideAsksNobody(t *testing.T) {
	f := newFake()
	h := f.handler(t)
	var of *alarm.Alarm
	for i := range f.alarms {
		if f.alarms[i].Kind() == finding.AirShort {
			of = &f.alarms[i]
		}
	}
	require.NotNil(t, of)
	assert.Contains(t, get(t, h, "/findings").Body.String(), "one thing to act on today")
	require.Equal(t, http.StatusSeeOther, send(h, "/api/v1/alarms/"+url.PathEscape(of.ID)+"/shelve", asForm, "by=Ann&reason=waits+for+a+hose&hours=2").Code)
	now, found := get(t, h, "/").Body.String(), get(t, h, "/findings").Body.String()
	assert.NotContains(t, now, "act today")
	assert.Contains(t, now, "by Ann: waits for a hose")
	assert.NotContains(t, found, "to act on today")
	section := found[strings.Index(found, "<h2>Put aside"):]
	assert.Contains(t, section, "by Ann: waits for a hose")
	assert.NotContains(t, section[:strings.Index(section, "</article>")], "What to do")
	for _, words := range []string{"Likely causes", "If it waits", "Over when", "How each shows at the sensors", "suction at the trunk down, velocity pressure up"} {
		assert.Contains(t, found, words)
	}

	held := heldBy(f.alarms[0].Cause)
	assert.Equal(t, cannotTell, worst(good, &watch.Collector{Findings: []finding.Finding{causing(f.alarms[0].Cause, finding.Instrument)}}, held))
	assert.Equal(t, good, worst(good, &watch.Collector{Findings: []finding.Finding{causing(f.alarms[0].Cause, finding.ActToday)}}, held))
	follows := finding.Finding{Collector: "main", Kind: finding.AirShort, Priority: finding.ActToday, Under: "leak-7"}
	assert.True(t, aside{"leak-7": alarm.Alarm{}}.quiets(&follows), "what follows from what is put aside is put aside with it")
	assert.False(t, aside{"leak-8": alarm.Alarm{}, "": alarm.Alarm{}}.quiets(&follows))
	follows.Under = ""
	assert.False(t, aside{"": alarm.Alarm{}}.quiets(&follows))
}

func heldBy(cause string) aside { return aside{cause: alarm.Alarm{Cause: cause}} }

// causing is an active finding under a cause.
func causing(cause string, p finding.Priority) finding.Finding {
	parts := strings.SplitN(cause, "/", 3)
	return finding.Finding{Collector: parts[0], Kind: finding.Kind(parts[1]), Subject: parts[2], Priority: p}
}

func TestWhoWasToldIsSaid(t *testing.T) {
	f := newFake()
	id := f.alarms[0].ID
	a := alarm.Alarm{ID: id}
	p := &post{
		status: []outbox.Status{{Target: "mail", Last: testNow.Add(-time.Hour)}, {Target: "syslog", Failures: 3, Waiting: 2, Problem: "connection refused",
			Dead: []outbox.Item{{Letter: outbox.Letter{Subject: "Elm Lane: plan"}, Ended: testNow.Add(-time.Hour), Last: "connection refused"}}}},
		items: []outbox.Item{{Target: "mail", State: outbox.Delivered, Ended: testNow.Add(-time.Hour), Letter: outbox.Letter{Event: alarm.Raised, Alarm: &a}},
			{Target: "syslog", State: outbox.Waiting, Last: "connection refused", Letter: outbox.Letter{Alarm: &a}}},
	}
	cfg := f.config()
	cfg.Delivery = p
	h, err := New(cfg)
	require.NoError(t, err)
	page := get(t, h, "/alarms").Body.String()
	for _, words := range []string{"mail was told (raised), today 13:05", "syslog is not told yet: connection refused", "one letter was not delivered",
		"To syslog, today 13:05: Elm Lane: plan (connection refused)"} {
		assert.Contains(t, page, words)
	}
	require.Equal(t, http.StatusSeeOther, send(h, "/api/v1/test-letter", asForm, "by=Ann").Code)
	assert.Equal(t, []string{"Ann"}, p.tests)
	assert.Equal(t, http.StatusConflict, send(f.handler(t), "/api/v1/test-letter", asJSON, `{"by":"Ann"}`).Code, "nobody is told")
}

// A shop that publishes and writes to nobody sees how that goes, and cannot send a letter.
func TestABrokerIsAmongThoseWhoAreTold(t *testing.T) {
	f := newFake()
	cfg := f.config()
	p := &post{broker: true, status: []outbox.Status{{Target: "mqtt", Failures: 2, Waiting: 1, Problem: "connection refused"}}}
	cfg.Delivery = p
	h, err := New(cfg)
	require.NoError(t, err)
	page := get(t, h, "/alarms").Body.String()
	assert.Contains(t, page, "connection refused")
	assert.Contains(t, page, "no letter goes to anybody")
	assert.NotContains(t, page, "Send a test letter")
	assert.NotContains(t, page, "Nobody is told")
	assert.Equal(t, http.StatusConflict, send(h, "/api/v1/test-letter", asJSON, `{"by":"Ann"}`).Code)
	assert.Empty(t, p.tests)
}

func TestTheBudgetIsCountedByTheLogbook(t *testing.T) {
	var entries []journal.Entry
	add := func(days, n int) {
		for range n {
			entries = append(entries, journal.Entry{Time: testNow.AddDate(0, 0, -days), Kind: journal.Alarm, Alarm: "x", Event: "raised"},
				journal.Entry{Time: testNow.AddDate(0, 0, -days), Kind: journal.Alarm, Alarm: "x", Event: "cleared"})
		}
	}
	list := []alarm.Alarm{{ID: "x", Cause: "main/new-leak/trunk 3", State: alarm.ActiveAcknowledged, Raised: testNow.AddDate(0, 0, -3)}}
	add(31, 50)
	add(10, 21)
	srv := &server{Config: Config{Shop: testShop()}}
	b := srv.budget(list, entries, testNow)
	assert.Equal(t, 21, b.Raised)
	assert.Equal(t, "4.9", b.PerWeek())
	assert.True(t, b.Within)
	assert.Equal(t, 1, b.Long)
	assert.Equal(t, []worstRow{{"New leak: trunk 3", "main/new-leak/trunk 3", 21}}, b.Worst)
	assert.Equal(t, "2026-11-15", b.Daily[budgetDays-11].Date.Format(time.DateOnly))
	assert.Equal(t, 21, b.Daily[budgetDays-11].Raised)
	weeks := srv.weekRows(&b)
	assert.Equal(t, weekRow{"19 November to 25 November", 0, 0, false}, weeks[0])
	assert.Equal(t, weekRow{"12 November to 18 November", 21, 21, true}, weeks[1])
	assert.Equal(t, "27 October to 28 October", weeks[4].Days, "the days that are left")
	add(1, 1)
	assert.False(t, (&server{Config: Config{Shop: testShop()}}).budget(list, entries, testNow).Within)
}

func TestACorrectionNamesWhatItStandsFor(t *testing.T) {
	f := newFake()
	h := f.handler(t)
	last := len(f.entries)
	f.entries = append(f.entries, journal.Entry{Time: testNow, Kind: journal.Alarm, Alarm: "x", Event: "acknowledged", By: "Ann"})
	assert.Equal(t, http.StatusBadRequest, send(h, "/api/v1/journal", asForm, "kind=other&by=Ann&corrects=99").Code, "no such entry")
	assert.Equal(t, http.StatusBadRequest, send(h, "/api/v1/journal", asForm, "kind=other&by=Ann&corrects=six").Code)
	assert.Equal(t, http.StatusBadRequest, send(h, "/api/v1/journal", asJSON, `{"kind":"other","by":"Ann","corrects":6}`).Code, "the tool's own")
	assert.Equal(t, http.StatusBadRequest, send(h, "/api/v1/journal", asForm, "kind=other&by=Ann&result=ok").Code, "no check")
	require.Equal(t, http.StatusSeeOther, send(h, "/api/v1/journal", asForm, "kind=check&by=Ann&result=not+ok&action=new+hose&corrects=5").Code)
	assert.Equal(t, uint64(last), f.entries[last+1].Corrects)
	page := get(t, h, "/logbook").Body.String()
	assert.Contains(t, page, "Check done (in place of entry 5): not ok")
	assert.Contains(t, page, "No longer holds: entry 7 stands in its place.")
	assert.Contains(t, page, "Alarm seen")
	assert.Contains(t, page, journal.Head(f.entries).String())
}
