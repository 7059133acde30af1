package dashboard

import (
	"math"
	"time"

	"ductward/internal/estimate"
	"ductward/internal/reading"
	"ductward/internal/watch"
)

// huntingFake is a shop with a leak in one of some places, and the tests that would tell which. Its gates tell where they
// stand.
func huntingFake(hunting bool, standing time.Duration, open ...string) *fake {
	f := newFake()
	c := &f.snap.Collectors[0]
	c.Now = testAir(open...)
	c.Findings, f.alarms = c.Findings[2:3], nil // the growing leak
	leak := &c.Findings[0]
	c.NextTest = &estimate.NextTest{Finding: leak.ID, Suspects: leak.Where, Entropy: 1.35, Tests: []estimate.Proposal{{
		Open: []string{"panel saw gate"}, Duration: 3 * time.Minute, Gain: 0.62, Likeliest: 0.78,
		Reason: `With these gates trunk should read 14 Pa otherwise if it is run "trunk 5" than if it is run "trunk 4"; 3 minutes tell that to ± 4.2 Pa.`,
	}}}
	c.Hunting, c.Standing = hunting, standing
	c.Checks = testChecks()
	f.latest = map[string]reading.Reading{}
	for _, m := range testMachines {
		ch := "gate/" + m.name + " gate"
		f.latest[ch] = reading.Reading{Channel: ch, Time: testNow}
	}
	return f
}

// testChecks are a daily check that is due and a walk that is not.
func testChecks() []estimate.Check {
	return []estimate.Check{
		{Kind: estimate.ReferenceCheck, Sets: [][]string{{"panel saw gate"}}, Duration: 2 * time.Minute, Due: true, Since: testNow.Add(-30 * time.Hour),
			Last: testNow.AddDate(0, 0, -2), Power: 24.0 / 3600, Closed: 4.0 / 3600},
		{Kind: estimate.WalkCheck, Duration: time.Minute, Last: testNow.AddDate(0, 0, -3), Power: math.NaN(), Closed: math.NaN()},
	}
}

// collector is the fake's only collector.
func (f *fake) collector() *watch.Collector { return &f.snap.Collectors[0] }
