package dashboard

import (
	"fmt"
	"math"

	"ductward/internal/finding"
	"ductward/internal/watch"
)

// promiseView is how the promise of few false alarms is kept, in words.
type promiseView struct {
	Sentence string
	Rows     []fact
	Record   []fact // what the shop's own record says
}

// promiseView puts the promise into words; nil where there is nothing to promise.
func (s *server) promiseView(c *watch.Collector) *promiseView {
	p := c.Promise
	if p == nil {
		return nil
	}
	v := &promiseView{Sentence: fmt.Sprintf("At most %s a year is promised over all that is watched, in a year of %d working days. "+
		"A change of the ducts, the fan or a sensor is told from %s standard errors on.",
		falseAlarms(p.PerYear), p.WorkingDays, fixed(p.Threshold, 1))}
	v.Rows = []fact{
		{"Share of the search", percentOf(p.Share), "the rest is for the filter, the air at the machines and the sensors"},
		{"Questions a day", fmt.Sprint(p.Directions), "leak, blockage of each drop, blockage of the trunk, a hole in the filter’s medium, fan, scale of each sensor: the promise is shared out evenly among them, so that it is kept whatever their correlation"},
		{"Onsets tried", fmt.Sprintf("each of the last %d days", p.Window), "with every one more, chance has one more opportunity: the threshold counts them all"},
		{"Threshold", fixed(p.Threshold, 2) + " standard errors", "of a change’s size over its own error: as rarely as is promised, pure chance reaches it"},
		{"Growth", fmt.Sprintf("e to the %s, or %s times, the evidence of a step", fixed(p.GrowthDoubt, 1), fixed(math.Exp(p.GrowthDoubt), 1)), "over a few days a step seen through noise looks like growth"},
	}
	v.Record = recordFacts(c)
	return v
}

// recordFacts tell what the shop's own record has shown of its errors.
func recordFacts(c *watch.Collector) []fact {
	p := c.Promise
	prior := p.PriorDays / (p.PriorDays + float64(p.Learnt))
	return []fact{
		{"Days watched", count(p.Watched, "day"), "against the baseline that holds, beside its own"},
		{"Told in them", count(changesTold(c), "change"), "whether each was real, the findings page and your logbook say"},
		{"Runs within a day", scatterText(p.Within), "scatter about the day’s fit, over what is stated"},
		{"Leakage from day to day", scatterText(p.Between), "scatter over what is stated, while nothing has been found"},
		{"Every error is widened by", fixed(100*(math.Sqrt(p.Inflation)-1), 0) + "\u00a0%", "never less than none: a record that looks too good is only young"},
		{"Taken on trust", percentOf(prior), fmt.Sprintf("of the weight is that of %s days as stated, the rest is this shop’s own record", fixed(p.PriorDays, 0))},
		{"Correlation from day to day", fixed(p.Correlation, 1), "of each sensor’s error, taken on trust: means over many days are counted as wide as that makes them"},
	}
}

// changesTold is how many changes were told since the baseline that holds.
func changesTold(c *watch.Collector) (told int) {
	for i := range c.Findings {
		if f := &c.Findings[i]; searched(f) && !c.Baseline.To.IsZero() && f.Raised.After(c.Baseline.To) {
			told++
		}
	}
	return told
}

// searched tells whether a finding comes of the search for changes. A filter's lost resistance does where it is told as a hole, by a flow.
func searched(f *finding.Finding) bool {
	switch f.Kind {
	case finding.FilterLostResistance:
		return f.SizeUnit == "m3/s"
	case finding.NewLeak, finding.GrowingLeak, finding.GateLeaks, finding.DropBlocked, finding.OpenSideChanged, finding.TrunkBlocked,
		finding.FanSlow, finding.RestrictionAfterTap, finding.SensorDisagrees:
		return true
	}
	return false
}

// scatterText is a mean square as a ratio of standard deviations.
func scatterText(meanSquare float64) string {
	if !known(meanSquare) {
		return "not known yet"
	}
	return fixed(math.Sqrt(meanSquare), 2) + " times"
}

// percentOf is a share that has no spread.
func percentOf(share float64) string { return fixed(100*share, 0) + "\u00a0%" }

// falseAlarms is a number of false alarms in words.
func falseAlarms(n float64) string {
	if n == 1 {
		return "one false alarm"
	}
	return plain(n) + " false alarms"
}
