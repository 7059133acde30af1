package dashboard

import (
	"math"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"ductward/internal/estimate"
	"ductward/internal/finding"
)

// judged is the state of a fake's first collector.
func judged(f *fake) state {
	s := &server{Config: f.config()}
	rq := s.newRequest(httptest.NewRequest("GET", "/", nil))
	return s.stateOf(rq, &rq.snap.Collectors[0], f.Latest())
}

// calm is a fake on which nothing asks for anything.
func calm() *fake {
	f := newFake()
	f.snap.Collectors[0].Findings, f.alarms = nil, nil
	f.snap.Collectors[0].Now = testAir("bench saw")
	f.snap.Collectors[0].Days[len(f.snap.Collectors[0].Days)-1].Due = nil
	return f
}

func TestStateWords(t *testing.T) {
	for _, c := range []struct {
		name string
		make func(*fake)
		word word
		says string
	}{
		{"all well", func(*fake) {}, good, "Bench saw has the air it needs."},
		{"a plan finding", func(f *fake) {
			f.snap.Collectors[0].Findings = []finding.Finding{{Kind: finding.FilterDue, Priority: finding.Plan}}
		}, plan, "Bench saw has the air it needs."},
		{"a plan finding that is over", func(f *fake) {
			f.snap.Collectors[0].Findings = []finding.Finding{{Kind: finding.FilterDue, Priority: finding.Plan, Ended: testNow}}
		}, good, ""},
		{"a journal line", func(f *fake) {
			f.snap.Collectors[0].Findings = []finding.Finding{{Kind: finding.FilterCleaned, Priority: finding.Journal}}
		}, good, ""},
		{"something urgent", func(f *fake) {
			f.snap.Collectors[0].Findings = []finding.Finding{{Kind: finding.FilterLostResistance, Priority: finding.ActToday}}
		}, actToday, "Act today: filter lost resistance"},
		{"no baseline", func(f *fake) {
			f.snap.Collectors[0].Baseline = estimate.Baseline{Lacks: "the planer’s gate alone."}
		}, cannotTell, "Still lacking: the planer’s gate alone."},
		{"a sensor at fault", func(f *fake) { f.snap.Collectors[0].Sensors[1].Fault = "stuck" }, cannotTell, "Trunk cannot be trusted."},
		{"old readings", func(f *fake) {
			for i := range f.snap.Collectors[0].Sensors {
				f.snap.Collectors[0].Sensors[i].At = testNow.Add(-2 * time.Hour)
			}
		}, cannotTell, "The last reading is from today 12:05"},
		{"urgent and at fault: the urgent does not hide", func(f *fake) {
			f.snap.Collectors[0].Findings = []finding.Finding{{Kind: finding.NewLeak, Priority: finding.ActToday}}
			f.snap.Collectors[0].Sensors[1].Fault = "stuck"
		}, actToday, "Act today: new leak"},
		{"an instrument in trouble", func(f *fake) {
			f.snap.Collectors[0].Findings = []finding.Finding{{Kind: finding.SensorDisagrees, Priority: finding.Instrument, Subject: "main/trunk"}}
		}, cannotTell, "Sensor disagrees with the others (main/trunk), so what follows from it cannot be told."},
		{"fan off", func(f *fake) { f.snap.Collectors[0].Now.FanOn = false }, good, "The fan is off: no air is drawn."},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := calm()
			c.make(f)
			st := judged(f)
			assert.Equal(t, c.word, st.Word)
			assert.Contains(t, st.Sentence, c.says)
		})
	}
}

func TestJudge(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name         string
		v, se, needs float64
		want         airVerdict
	}{
		{"surely enough", 900, 20, 850, enough}, {"surely short", 700, 20, 850, short}, {"too close above", 870, 20, 850, closeCall},
		{"too close below", 830, 20, 850, closeCall}, {"exactly known", 850, 0, 850, enough}, {"need not stated", 850, 20, nan, noNeed},
		{"air not known", nan, nan, 850, noAnswer}, {"neither known", nan, nan, nan, noAnswer},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.want, judge(estimate.MachineAir{Flow: estimate.Value{V: c.v, SE: c.se}, Needs: c.needs}))
		})
	}
}

func TestDueSentence(t *testing.T) {
	day := func(d int) time.Time { return testNow.AddDate(0, 0, d) }
	for _, c := range []struct {
		low, high int
		want      string
	}{
		{2, 9, "Clean the filter between Friday 27 November and Friday 4 December."}, {-1, 3, "Clean the filter by Saturday 28 November."},
		{-9, -2, "Clean the filter: it was due by Monday 23 November."}, {90, 140, "The filter needs no cleaning before 23 February 2027."},
	} {
		f := calm()
		days := f.snap.Collectors[0].Days
		days[len(days)-1].Due = &estimate.Due{Low: day(c.low), Date: day((c.low + c.high) / 2), High: day(c.high)}
		assert.Contains(t, judged(f).Sentence, c.want)
	}
}
