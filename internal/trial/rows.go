package trial

import "slices"

// row is one line of the table of what the estimate reaches: a figure of one scenario in some settings.
type row struct {
	id       string // by which --only names it
	what     string
	unit     string
	scenario string
	metric   string
	figure   statistic
	rate     bool
	aim      [2]float64 // the figure must lie within
	worlds   []World
	sets     []string // all when nil
	rough    bool     // also with hoods of 10 %
	blind    bool     // also with the air not measured
	bound    bounding // of what the readings can tell at all; nil: none makes sense
}

var (
	daily  = []World{Daily}
	weekly = []World{Weekly}
	never  = []World{None}
	every  = []World{Daily, Weekly, None}
	few    = []string{"A", "B"}
	many   = []string{"C", "D"}
)

// most and least are the ends of an aim that has one alone.
const most, least = 1e9, -1e9

func atLeast(x float64) [2]float64 { return [2]float64{x, most} }
func atMost(x float64) [2]float64  { return [2]float64{least, x} }

// rows is the table. A row of a rate counts the plants in which the thing could happen at all.
var rows = []row{
	{id: "size", what: "new leakage, a week with a 10-min test: s.d.", unit: "m³/h", scenario: "leak of a week", metric: "error", figure: spreadOf, aim: atMost(3), worlds: weekly, rough: true, blind: true, bound: sizeBound(20, anywhere)},
	{id: "size", what: "the same: bias", unit: "m³/h", scenario: "leak of a week", metric: "error", figure: meanOf, aim: [2]float64{-2, 2}, worlds: weekly, rough: true, blind: true},
	{id: "size", what: "the same: held by the 90 % interval", scenario: "leak of a week", metric: "held", figure: meanOf, rate: true, aim: [2]float64{0.85, 0.95}, worlds: weekly, rough: true, blind: true},
	{id: "size-test", what: "new leakage, one 10-min test and its day: s.d.", unit: "m³/h", scenario: "leak of a test", metric: "error", figure: spreadOf, aim: atMost(3.5), worlds: weekly, bound: sizeBound(20, anywhere)},
	{id: "size-test", what: "the same: held by the 90 % interval", scenario: "leak of a test", metric: "held", figure: meanOf, rate: true, aim: [2]float64{0.85, 0.95}, worlds: weekly},
	{id: "size-day", what: "new leakage, one normal day: s.d.", unit: "m³/h", scenario: "leak of a day", metric: "error", figure: spreadOf, aim: atMost(13), worlds: never, bound: sizeBound(40, anywhere)},
	{id: "size-day", what: "the same: held by the 90 % interval", scenario: "leak of a day", metric: "held", figure: meanOf, rate: true, aim: [2]float64{0.85, 0.95}, worlds: never},
	{id: "seen", what: "sudden leak of 15 seen the same day", scenario: "leak 15", metric: "seen same day", figure: meanOf, rate: true, aim: atLeast(0.9), worlds: daily, rough: true, bound: seenBound(15, 1)},
	{id: "seen", what: "sudden leak of 8 seen within a week", scenario: "leak 8", metric: "seen in a week", figure: meanOf, rate: true, aim: atLeast(0.9), worlds: daily, rough: true, bound: seenBound(8, 7)},
	{id: "seen", what: "sudden leak of 60 seen the same day", scenario: "leak 60", metric: "seen same day", figure: meanOf, rate: true, aim: atLeast(0.9), worlds: weekly, rough: true, bound: seenBound(60, 1)},
	{id: "seen", what: "sudden leak of 20 seen by the next test", scenario: "leak 20", metric: "seen by the test", figure: meanOf, rate: true, aim: atLeast(0.9), worlds: weekly, rough: true, bound: seenBound(20, 7)},
	{id: "growth", what: "growth of 2 a month seen within 3 months", scenario: "growth 2", metric: "seen in 3 months", figure: meanOf, rate: true, aim: atLeast(0.9), worlds: daily, bound: growthBound(2, 91)},
	{id: "growth", what: "growth of 3.5 a month seen within 3 months", scenario: "growth 3.5", metric: "seen in 3 months", figure: meanOf, rate: true, aim: atLeast(0.9), worlds: never, bound: growthBound(3.5, 91)},
	{id: "growth", what: "growth of 15 a month seen within 4 weeks", scenario: "growth 15", metric: "seen in 4 weeks", figure: meanOf, rate: true, aim: atLeast(0.9), worlds: daily, bound: growthBound(15, 28)},
	{id: "false", what: "false alarms a collector-year", scenario: "healthy year", metric: "alarms", aim: atMost(1), worlds: every, rough: true, blind: true},
	{id: "since", what: "sudden leak of 40: the right day", scenario: "leak 40", metric: "onset same day", figure: meanOf, rate: true, aim: atLeast(0.9), worlds: daily, bound: onsetDayBound(40)},
	{id: "since", what: "growth of 5 a month: onset, 9 of 10 within", unit: "working days", scenario: "growth 5", metric: "onset error", figure: quantileOf(0.9), aim: atMost(10), worlds: daily, bound: onsetBound(5)},
	{id: "since", what: "growth of 15 a month: onset, 9 of 10 within", unit: "working days", scenario: "growth 15", metric: "onset error", figure: quantileOf(0.9), aim: atMost(5), worlds: daily, bound: onsetBound(15)},
	{id: "where", what: "right branch, leak of 60 at a drop", scenario: "drop leak 60", metric: "branch right", figure: meanOf, rate: true, aim: atLeast(0.85), worlds: daily, bound: placeBound(60, atADrop, branchSure)},
	{id: "where", what: "'trunk' right, leak of 90", scenario: "trunk leak 90", metric: "branch right", figure: meanOf, rate: true, aim: atLeast(0.9), worlds: daily, bound: placeBound(90, inTheTrunk, branchSure)},
	{id: "where", what: "right stretch among the first two, 100", scenario: "trunk leak 100", metric: "first two", figure: meanOf, rate: true, aim: atLeast(0.7), worlds: daily, sets: few, bound: placeBound(100, inTheTrunk, firstTwo)},
	{id: "where", what: "right stretch, leak of 100", scenario: "trunk leak 100", metric: "stretch right", figure: meanOf, rate: true, aim: atLeast(0.85), worlds: daily, sets: many, bound: placeBound(100, inTheTrunk, sure)},
	{id: "sure", what: "branch stated with 0.9 or more: right", scenario: "drop leak 60", metric: "sure right", figure: meanOf, rate: true, aim: atLeast(0.85), worlds: daily},
	{id: "sure", what: "place stated with 0.9 or more: right, trunk", scenario: "trunk leak 100", metric: "sure place right", figure: meanOf, rate: true, aim: atLeast(0.85), worlds: daily},
	{id: "belief", what: "a leak of any place and size: its place right, less stated", scenario: believedLeaks, metric: "excess", figure: meanOf, aim: [2]float64{-0.05, 0.05}, worlds: daily},
	{id: "filter", what: "filter resistance of a day: r.m.s. error", unit: "%", scenario: "healthy year", metric: "filter", figure: rootOf, aim: atMost(0.6), worlds: every, rough: true, bound: filterBound},
	{id: "filter", what: "what a cleaning left: r.m.s. error", unit: "%", scenario: "healthy year", metric: "left", figure: rootOf, aim: atMost(1), worlds: every, bound: filterBound},
	{id: "filter", what: "cleaning seen on its day", scenario: "healthy year", metric: "cleaning seen", figure: meanOf, rate: true, aim: atLeast(0.9), worlds: every},
	{id: "due", what: "date of cleaning, 10 working days ahead: median error", unit: "working days", scenario: "healthy year", metric: "due error", figure: quantileOf(0.5), aim: atMost(2), worlds: daily},
	{id: "due", what: "the same: 9 of 10 within", unit: "working days", scenario: "healthy year", metric: "due error", figure: quantileOf(0.9), aim: atMost(5), worlds: daily},
	{id: "due", what: "the same: held by the 80 % interval", scenario: "healthy year", metric: "due held", figure: meanOf, rate: true, aim: [2]float64{0.75, 0.85}, worlds: daily},
	{id: "blocked", what: "drop blocked by 35 % told within 5 uses", scenario: "blocked drop", metric: "told in time", figure: meanOf, rate: true, aim: atLeast(0.9), worlds: daily, bound: blockedBound(1.35, soonUses)},
	{id: "blocked", what: "the same: not told as a leak", scenario: "blocked drop", metric: "no leak told", figure: meanOf, rate: true, aim: atLeast(0.9), worlds: daily},
	{id: "slip", what: "belt slip of 1.5 % told within a day", scenario: "slip 1.5", metric: "told in a day", figure: meanOf, rate: true, aim: atLeast(0.9), worlds: daily, bound: slipBound(0.015, 1)},
	{id: "slip", what: "the same: nothing else told", scenario: "slip 1.5", metric: "nothing else told", figure: meanOf, rate: true, aim: atLeast(0.9), worlds: daily},
	{id: "slip", what: "belt slip of 1 % told within three days", scenario: "slip 1", metric: "told in three days", figure: meanOf, rate: true, aim: atLeast(0.9), worlds: daily, bound: slipBound(0.010, 3)},
	{id: "zero", what: "filter sensor's zero +8 Pa: told", scenario: "filter zero", metric: "told", figure: meanOf, rate: true, aim: atLeast(0.9), worlds: daily},
	{id: "zero", what: "the same: leakage feigned, mean", unit: "m³/h", scenario: "filter zero", metric: "leakage", figure: meanOf, aim: [2]float64{-2, 2}, worlds: daily},
	{id: "zero", what: "the same: no leak told", scenario: "filter zero", metric: "no leak told", figure: meanOf, rate: true, aim: atLeast(0.9), worlds: daily},
	{id: "zero", what: "trunk sensor's zero ramping to 60 Pa: told", scenario: "trunk zero", metric: "told", figure: meanOf, rate: true, aim: atLeast(0.9), worlds: daily},
	{id: "zero", what: "the same: leakage feigned, mean", unit: "m³/h", scenario: "trunk zero", metric: "leakage", figure: meanOf, aim: [2]float64{-2, 2}, worlds: daily},
	{id: "plugged", what: "plugged tap told on its day", scenario: "plugged tap", metric: "told in a day", figure: meanOf, rate: true, aim: atLeast(0.9), worlds: daily},
	{id: "plugged", what: "the same: not told as a leak", scenario: "plugged tap", metric: "no leak told", figure: meanOf, rate: true, aim: atLeast(0.9), worlds: daily},
	{id: "gates", what: "gates unknown, one open: right", scenario: silentGates, metric: "one right", figure: meanOf, aim: atLeast(0.83), worlds: daily, sets: few},
	{id: "gates", what: "gates unknown, one open: right", scenario: silentGates, metric: "one right", figure: meanOf, aim: atLeast(0.93), worlds: daily, sets: many},
	{id: "gates", what: "the same, two open, seen before: right", scenario: silentGates, metric: "two right", figure: meanOf, aim: atLeast(0.52), worlds: daily, sets: few},
	{id: "gates", what: "the same, two open, seen before: right", scenario: silentGates, metric: "two right", figure: meanOf, aim: atLeast(0.77), worlds: daily, sets: []string{"C"}},
	{id: "gates", what: "the same, two open, seen before: right", scenario: silentGates, metric: "two right", figure: meanOf, aim: atLeast(0.84), worlds: daily, sets: []string{"D"}},
	{id: "gates", what: "the same: sure, of all runs", scenario: silentGates, metric: "sure", figure: meanOf, aim: atLeast(0), worlds: daily},
	{id: "gates", what: "the same: sure and wrong, of all runs", scenario: silentGates, metric: "sure and wrong", figure: meanOf, aim: atMost(0.01), worlds: daily},
	{id: "gates", what: "the same: sure, right", scenario: silentGates, metric: "sure right", figure: meanOf, aim: atLeast(0.95), worlds: daily},
}

// hoods of an ordinary and of a rough shop.
const ordinaryHoods, roughHoods = 0.03, 0.10

// settings lists those that a row is measured in.
func (r *row) settings(only []string) []Setting {
	var out []Setting
	for _, set := range only {
		if r.sets != nil && !slices.Contains(r.sets, set) {
			continue
		}
		for _, w := range r.worlds {
			s := Setting{Scenario: r.scenario, Set: set, World: w, Hood: ordinaryHoods, Air: true}
			out = append(out, s)
			if r.rough {
				rough := s
				rough.Hood = roughHoods
				out = append(out, rough)
			}
			if r.blind {
				blind := s
				blind.Air = false
				out = append(out, blind)
			}
		}
	}
	return out
}
