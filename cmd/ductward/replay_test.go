package main

import (
	"encoding/json"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/watch"
)

const (
	demoSite = "../../hardware/rig/shop.yaml"
	sixDays  = "../../testdata/readings/six-days.csv"
)

// replayKeys are the keys of a replay that other programs rely on. Keys may be added.
var replayKeys = []string{
	"reference_suction_pa", "collectors[].baseline.from", "collectors[].baseline.to", "collectors[].baseline.gate_sets",
	"collectors[].baseline.misfit_rms", "collectors[].days[].date", "collectors[].days[].fan_hours",
	"collectors[].days[].filter_resistance_ratio", "collectors[].days[].filter_resistance_ratio_sd",
	"collectors[].days[].new_leakage_m3_s", "collectors[].days[].new_leakage_m3_s_sd",
	"collectors[].days[].fan_speed_ratio", "collectors[].days[].fan_speed_ratio_sd",
	"collectors[].days[].blockage[].machine", "collectors[].days[].blockage[].loss_factor",
	"collectors[].days[].blockage[].loss_factor_sd", "collectors[].days[].zones[].part",
	"collectors[].days[].zones[].probability", "collectors[].days[].zones[].new_leakage_m3_s",
	"collectors[].days[].zones[].members", "collectors[].days[].closed_checks",
	"collectors[].days[].cleaning_due.date", "collectors[].days[].cleaning_due.low",
	"collectors[].days[].cleaning_due.high", "collectors[].days[].cleaning_due.confidence",
	"collectors[].days[].cleaning_due.reason", "collectors[].findings[].id", "collectors[].findings[].kind",
	"collectors[].findings[].subject", "collectors[].findings[].raised", "collectors[].findings[].onset",
	"collectors[].findings[].onset_low", "collectors[].findings[].onset_high", "collectors[].findings[].ended",
	"collectors[].findings[].size", "collectors[].findings[].size_low", "collectors[].findings[].size_high",
	"collectors[].findings[].size_unit", "collectors[].findings[].confidence", "collectors[].findings[].where[].part",
	"collectors[].findings[].where[].probability", "collectors[].findings[].confusable_with",
	"collectors[].findings[].causes[].cause", "collectors[].findings[].causes[].told_by", "collectors[].findings[].if_it_waits",
	"collectors[].findings[].clears", "collectors[].findings[].cautions", "collectors[].findings[].text",
	"collectors[].alarms[].finding", "collectors[].alarms[].priority",
	"collectors[].alarms[].raised", "collectors[].alarms[].cleared", "collectors[].next_test.finding",
	"collectors[].next_test.entropy_bits", "collectors[].next_test.suspects[].part",
	"collectors[].next_test.suspects[].probability", "collectors[].next_test.tests[].open",
	"collectors[].next_test.tests[].selectors", "collectors[].next_test.tests[].duration_s",
	"collectors[].next_test.tests[].gain_bits", "collectors[].next_test.tests[].likeliest_after",
	"collectors[].next_test.tests[].reason", "collectors[].next_test.refused_sets", "collectors[].next_test.reason",
}

// replayed is the part of the JSON that the tests look at.
type replayed struct {
	Reference  float64 `json:"reference_suction_pa"`
	Collectors []struct {
		Name     string
		Baseline struct {
			From, To string
			GateSets int  `json:"gate_sets"`
			Complete bool `json:"complete"`
		}
		Days []struct {
			Date      string
			FanHours  float64  `json:"fan_hours"`
			Filter    *float64 `json:"filter_resistance_ratio"`
			FilterSD  *float64 `json:"filter_resistance_ratio_sd"`
			Leakage   *float64 `json:"new_leakage_m3_s"`
			LeakageSD *float64 `json:"new_leakage_m3_s_sd"`
			Zones     []struct{ Probability float64 }
		}
		Findings []json.RawMessage
		Alarms   []struct{ Finding string }
	}
}

// TestReplayOfAFile runs the main job on a file that was not made in this process: six working days in one-minute means.
func TestReplayOfAFile(t *testing.T) {
	got := call(t, "replay", demoSite, sixDays, "--json")
	require.Equal(t, exitFine, got.code, got.errOut)
	var r replayed
	require.NoError(t, json.Unmarshal([]byte(got.out), &r))
	assert.Equal(t, 1500.0, r.Reference, "Pa")
	require.Len(t, r.Collectors, 1)
	c := r.Collectors[0]
	assert.Equal(t, "main", c.Name)
	assert.True(t, c.Baseline.Complete)
	assert.Equal(t, "2026-11-16", c.Baseline.From[:10])
	assert.Greater(t, c.Baseline.GateSets, 20)

	require.Len(t, c.Days, 6)
	for i, d := range c.Days {
		assert.InDelta(t, 6.5, d.FanHours, 0.5, "h on %s", d.Date)
		require.NotNil(t, d.Filter, d.Date)
		assert.Greater(t, *d.FilterSD, 0.0, d.Date)
		if i > 0 {
			assert.Greater(t, *d.Filter, *c.Days[i-1].Filter, "nobody cleaned the filter by %s", d.Date)
		}
		sum := 0.0
		for _, z := range d.Zones {
			sum += z.Probability
		}
		if len(d.Zones) > 0 {
			assert.InDelta(t, 1, sum, 1e-9, "probabilities on %s", d.Date)
		}
	}
	last := c.Days[5]
	require.NotNil(t, last.Leakage, "the day after the baseline is compared with it")
	assert.Less(t, *last.Leakage, 3**last.LeakageSD, "m³/s: two pressures of one day tell no leak")
	// The filter loads and some runs are slow by design; nothing broke in that week.
	for _, a := range c.Alarms {
		assert.NotRegexp(t, `leak|blocked|fan-slow|filter-lost|sensor-`, a.Finding)
	}
}

// TestReplayIsTheSameWhicheverWayTheRowsCome holds that rows need not be sorted and that doubles change nothing.
func TestReplayIsTheSameWhicheverWayTheRowsCome(t *testing.T) {
	text, err := os.ReadFile(sixDays)
	require.NoError(t, err)
	lines := strings.Split(strings.TrimSpace(string(text)), "\n")
	first := call(t, "replay", demoSite, sixDays, "--json")

	backwards := slices.Clone(lines[1:])
	moment := func(line string) string { at, _, _ := strings.Cut(line, ","); return at }
	slices.SortStableFunc(backwards, func(a, b string) int { // rows of one moment keep their order: it is all they have
		return strings.Compare(moment(b), moment(a))
	})
	turned := write(t, "backwards.csv", lines[0]+"\n"+strings.Join(backwards, "\n")+"\n")
	got := call(t, "replay", demoSite, turned, "--json")
	assert.Equal(t, first.out, got.out)

	doubled := write(t, "doubled.csv", strings.Join(lines, "\n")+"\n"+strings.Join(lines[1:], "\n")+"\n")
	got = call(t, "replay", demoSite, doubled, "--json")
	assert.Equal(t, first.out, got.out)
	assert.Contains(t, got.errOut, count(len(lines)-1, "double", "doubles")+" dropped", "doubles are told")
}

func TestReplayForAPerson(t *testing.T) {
	logbook := write(t, "logbook.csv", "time,kind,subject,note,by\n2026-11-18T16:00:00Z,bin-emptied,main,,Ada\n")
	got := call(t, "replay", demoSite, sixDays, "--journal", logbook)
	require.Equal(t, exitFine, got.code, got.errOut)
	for _, s := range []string{"1 journal entry", "collector main", "baseline of", "2026-11-16 to", "new leakage m³/h", "findings", "alarms"} {
		assert.Contains(t, got.out, s)
	}
}

func TestReplayToldWhatIsWrong(t *testing.T) {
	head := "time,channel,value,unit,span_s\n"
	rows := []struct {
		name, text string
		code       int
		says       string
	}{
		{"a time without an offset", head + "2026-11-16T08:00:00,main/filter drop,300,Pa,0\n", exitFailed, "offset"},
		{"a unit of another kind", head + "2026-11-16T08:00:00Z,main/filter drop,300,m/s,0\n", exitFailed, "m/s"},
		{"a channel that is not there", head + "2026-11-16T08:00:00Z,main/filtr drop,300,Pa,0\n", exitFailed, `"main/filtr drop"`},
		{"a gate that is not there", head + "2026-11-16T08:00:00Z,gate/lathe gate,1,,0\n", exitFine, `no channel "gate/lathe gate"`},
		{"no columns", "when,what\n", exitFailed, `"time"`},
		{"nothing", "", exitFailed, "empty"},
		{"a header alone", head, exitFine, ""},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			got := call(t, "replay", demoSite, write(t, "readings.csv", r.text))
			assert.Equal(t, r.code, got.code, got.errOut)
			assert.Contains(t, got.errOut, r.says)
		})
	}
}

// wholeOutcome is an outcome in which everything that can be told is told.
func wholeOutcome() *outcome {
	at := func(day int) time.Time { return time.Date(2026, 3, day, 7, 30, 0, 0, time.UTC) }
	here := finding.Place{Part: "run:trunk 5", Members: []string{"run:trunk 4"}, Probability: 0.75}
	leak := finding.Finding{ID: "main.new-leak.1", Collector: "main", Kind: finding.NewLeak, Subject: "trunk", Priority: finding.Plan,
		Raised: at(20), Onset: at(18), OnsetLow: at(17), OnsetHigh: at(19), Ended: at(28), Size: 0.004, SizeLow: 0.003, SizeHigh: 0.005,
		SizeUnit: "m3/s", Confidence: 0.9, Where: []finding.Place{here}, ConfusableWith: []string{"an extra gate open"},
		Text: "A new leak in the trunk.", Action: "Look at the seams."}
	day := estimate.Day{Date: "2026-03-20", FanHours: 6.5, ClosedChecks: 2, FilterRatio: estimate.Value{V: 1.2, SE: 0.01},
		Leakage: estimate.Value{V: 0.004, SE: 0.001}, FanRatio: estimate.Value{V: 0.999, SE: 0.002},
		Blockage: []estimate.Blockage{{Machine: "planer", Factor: estimate.Value{V: 1.1, SE: 0.05}}},
		Zones:    []estimate.Zone{{Place: here, Leakage: estimate.Value{V: 0.004, SE: 0.001}}},
		Due:      &estimate.Due{Date: at(25), Low: at(23), High: at(29), Confidence: 0.8, Reason: "filter-limit"}}
	return &outcome{location: time.UTC, told: tally{readings: 3, runs: 2, entries: 1},
		alarms: map[string][]alarmSpell{"main": {{finding: leak.ID, priority: finding.Plan, raised: at(20), cleared: at(28)}}},
		snapshot: &watch.Snapshot{Shop: "Elm Lane", ReferenceSuction: 1500, Collectors: []watch.Collector{{Name: "main",
			Baseline: estimate.Baseline{From: at(2), To: at(6), GateSets: 14, MisfitRMS: 0.021, Complete: true},
			Days:     []estimate.Day{day}, Findings: []finding.Finding{leak}, Lacks: []string{"a far tap would tell where"},
			NextTest: &suspects}}}}
}

func TestReplayJSONHasTheContractsKeys(t *testing.T) {
	var b strings.Builder
	require.NoError(t, writeReplayJSON(&b, wholeOutcome()))
	keys := keysOf(t, b.String())
	for _, k := range replayKeys {
		assert.True(t, keys[k], "the contract's key %s is missing", k)
	}
	golden(t, "replay.json", b.String())
}

func TestReplayTable(t *testing.T) {
	var b strings.Builder
	require.NoError(t, writeReplayTable(&b, wholeOutcome()))
	golden(t, "replay.txt", b.String())
}

func TestStrict(t *testing.T) {
	assert.True(t, wholeOutcome().alarmed())
	assert.False(t, (&outcome{}).alarmed())
	plain := call(t, "replay", demoSite, sixDays)
	want := exitNotFine
	if strings.HasSuffix(plain.out, "alarms\n  none\n") {
		want = exitFine
	}
	got := call(t, "replay", demoSite, sixDays, "--strict")
	assert.Equal(t, want, got.code)
	assert.Equal(t, plain.out, got.out)
	assert.Equal(t, exitFine, plain.code, "without --strict an alarm is no failure")
}
