package dashboard

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/watch"
)

// testNow is the moment of all tests: a Wednesday afternoon in autumn.
var testNow = time.Date(2026, 11, 25, 14, 5, 9, 0, time.UTC)

func m3h(v, se float64) estimate.Value { return estimate.Value{V: v / 3600, SE: se / 3600} }

func val(v, se float64) estimate.Value { return estimate.Value{V: v, SE: se} }

// testSnapshot is a day with work: two gates open, one machine short, a growing leak, a filter that is due.
func testSnapshot() *watch.Snapshot {
	return &watch.Snapshot{Shop: "Hollins Lane sash & stair", ReferenceSuction: 1500, Collectors: []watch.Collector{{
		Name:     "main",
		Baseline: testBaseline(),
		Promise: &estimate.Promise{PerYear: 1, Share: 0.5, WorkingDays: 250, Directions: 31, Window: 60, Threshold: 4.87, GrowthDoubt: 1,
			Watched: 118, Learnt: 118, Within: 1.21, Between: 0.94, PriorDays: 10, Inflation: 1.19, Correlation: 0.5},
		Now:      testAir("tenoner", "edge sander"),
		Days:     testDays(),
		Findings: testFindings(),
		Sensors:  testSensors(),
		Lacks:    []string{"Which stretch of the trunk leaks cannot be told with one tap: a second tap at the far end would tell."},
	}}}
}

// testBaseline stands in its second version, which nobody has accepted; ten gate sets, one far from the model.
func testBaseline() estimate.Baseline {
	from, to := testNow.AddDate(0, -6, 0), testNow.AddDate(0, -6, 3)
	b := estimate.Baseline{From: from, To: to, Version: 2, GateSets: 10, MisfitRMS: 0.021, Complete: true, LeftOut: 3, DaysNeeded: 5, RunsNeeded: 40}
	b.Versions = []estimate.Version{
		{Version: 1, From: from.AddDate(0, -2, 0), To: to.AddDate(0, -2, 0), GateSets: 8, MisfitRMS: 0.034, Accepted: to.AddDate(0, -2, 1), AcceptedBy: "R. Okafor"},
		{Version: 2, From: from, To: to, GateSets: 10, MisfitRMS: 0.021, Stands: true},
	}
	for i := range 10 {
		m := 0.004 * float64(i%5)
		if i == 7 {
			m = -0.083
		}
		set := estimate.SetFit{Runs: 3 + i, Days: 2, Channels: []estimate.ChannelFit{{Channel: "main/filter drop", Misfit: val(m, 0.004)}, {Channel: "main/trunk", Misfit: val(-m/2, 0.003)}}}
		if i > 0 {
			set.Open = []string{testMachines[(i-1)%len(testMachines)].name + " gate"}
		}
		if i == 9 {
			set.Channels = set.Channels[:1]
		}
		b.Sets = append(b.Sets, set)
	}
	return b
}

// makingBaseline is a baseline in the making: one step is seen, one stands, one is beyond the rating.
func makingBaseline() estimate.Baseline {
	b := estimate.Baseline{From: testNow.AddDate(0, 0, -1), MisfitRMS: math.NaN(), Lacks: "the edge sander’s gate alone", Days: 1, DaysNeeded: 5, Runs: 12, RunsNeeded: 40}
	b.Versions = []estimate.Version{{Version: 1, From: testNow.AddDate(0, -6, 0), To: testNow.AddDate(0, -6, 3), GateSets: 9, MisfitRMS: 0.02}}
	for i, m := range testMachines {
		b.Walk = append(b.Walk, estimate.Step{Machine: m.name, Open: []string{m.name + " gate"}, Set: "=" + m.name, Done: i == 0, Borne: i != 3, Rated: true})
	}
	return b
}

// testAir is the air with some gates open; the tenoner gets less than it needs.
func testAir(open ...string) estimate.Now {
	n := estimate.Now{At: testNow.Add(-2 * time.Second), FanOn: true, Settled: true, Filter: val(1.62, 0.01), Leakage: m3h(14, 1.6)}
	total := 40.0
	flows := map[string]float64{}
	for _, m := range testMachines {
		air := estimate.MachineAir{Machine: m.name, Needs: m.needs / 3600, Flow: m3h(6, 2)}
		for _, o := range open {
			if o == m.name {
				air.Open, air.Flow = true, m3h(m.needs*1.09, m.needs*0.03)
				if m.name == "tenoner" {
					air.Flow = m3h(m.needs*0.83, m.needs*0.03)
				}
				n.Open = append(n.Open, m.name+" gate")
			}
		}
		flows[m.name] = air.Flow.V
		total += air.Flow.V * 3600
		n.Machines = append(n.Machines, air)
	}
	n.Flow = m3h(total, 40)
	sum := flows[testMachines[0].name]
	for i, m := range testMachines {
		v := flows[m.name] / (math.Pi / 4 * math.Pow(m.duct/1000, 2))
		n.Runs = append(n.Runs, estimate.RunAir{Run: m.name + " drop", Flow: flows[m.name], Velocity: v, Static: -900 - 40*float64(i)})
		if i == 0 {
			continue
		}
		sum += flows[m.name]
		v = sum / (math.Pi / 4 * 0.04)
		n.Runs = append(n.Runs, estimate.RunAir{Run: trunkName(i), Flow: sum, Velocity: v, Static: -940 - 40*float64(i), Settles: sum > 0.1 && v < 12})
	}
	return n
}

// testDays is half a year: the filter loads and is cleaned twice, a leak grows in the last two months, and the shop was
// shut for two weeks.
func testDays() []estimate.Day {
	rnd := rand.New(rand.NewPCG(7, 7))
	var out []estimate.Day
	ratio := 1.0
	for i := 180; i >= 0; i-- {
		day := testNow.AddDate(0, 0, -i)
		if wd := day.Weekday(); wd == time.Saturday || wd == time.Sunday || i > 98 && i < 114 {
			continue
		}
		ratio += 0.012 + 0.004*rnd.NormFloat64()
		if i == 128 || i == 54 {
			ratio = 1.05 + 0.03*float64(i%3)
		}
		leak, se := 0.8*rnd.NormFloat64(), 1.4
		if i < 60 {
			leak += float64(60-i) * 0.24
		}
		checks := 1
		if i%5 == 0 {
			checks, se = 0, 6
		}
		d := estimate.Day{Date: day.Format(time.DateOnly), FanHours: 5 + rnd.Float64()*2, Runs: 14, ClosedChecks: checks,
			FilterRatio: val(ratio, 0.008), Leakage: m3h(leak, se), FanRatio: val(1, 0.002), Flow: m3h(2300, 60), Innovation: 1}
		if i < 31 { // since it was told, the places narrow
			p := 0.4 + 0.014*float64(31-i)
			d.Zones = []estimate.Zone{{Place: finding.Place{Part: "several", Members: []string{"run:trunk 5", "run:trunk 4"}, Probability: p}, Leakage: m3h(leak, se)},
				{Place: finding.Place{Part: "several", Members: []string{"drop:band saw gate", "seat:band saw gate"}, Probability: 0.9 - p}, Leakage: m3h(leak+1, se)}, {Place: finding.Place{Part: "none", Probability: 0.1}}}
		}
		due := day.AddDate(0, 0, int((1.72-ratio)/0.012*7/5))
		d.Due = &estimate.Due{Date: due, Low: due.AddDate(0, 0, -4), High: due.AddDate(0, 0, 5), Confidence: 0.8, Reason: "filter-limit", Ratio: 1.72}
		out = append(out, d)
	}
	last := &out[len(out)-1]
	last.Leakage = m3h(14, 1.6)
	last.Zones = []estimate.Zone{
		{Place: finding.Place{Part: "run:trunk 5", Probability: 0.55}, Leakage: m3h(14, 1.6)},
		{Place: finding.Place{Part: "run:trunk 4", Probability: 0.3}, Leakage: m3h(13, 1.7)},
		{Place: finding.Place{Part: "several", Members: []string{"drop:band saw gate", "seat:band saw gate"}, Probability: 0.1}, Leakage: m3h(16, 2)},
		{Place: finding.Place{Part: "none", Probability: 0.05}, Leakage: m3h(0, 0)},
	}
	last.Due = &estimate.Due{Date: testNow.AddDate(0, 0, 6), Low: testNow.AddDate(0, 0, 2), High: testNow.AddDate(0, 0, 9), Confidence: 0.8, Reason: "air-short:tenoner", Ratio: 1.72}
	return out
}

// testFindings are one of each priority, and some that are over.
func testFindings() []finding.Finding {
	return []finding.Finding{
		{ID: "main/filter-cleaned/1", Collector: "main", Kind: finding.FilterCleaned, Priority: finding.Journal, Raised: testNow.AddDate(0, 0, -128), Onset: testNow.AddDate(0, 0, -128), Ended: testNow.AddDate(0, 0, -127), Size: math.NaN(), Text: "The filter was cleaned: its resistance fell from 152 % to 109 % of the baseline."},
		{ID: "main/filter-cleaned/2", Collector: "main", Kind: finding.FilterCleaned, Priority: finding.Journal, Raised: testNow.AddDate(0, 0, -54), Onset: testNow.AddDate(0, 0, -54), Ended: testNow.AddDate(0, 0, -53), Size: math.NaN(), Text: "The filter was cleaned: its resistance fell from 167 % to 105 % of the baseline."},
		{ID: "main/growing-leak/1", Collector: "main", Kind: finding.GrowingLeak, Priority: finding.Plan, Raised: testNow.AddDate(0, 0, -31), Onset: testNow.AddDate(0, 0, -58), OnsetLow: testNow.AddDate(0, 0, -66), OnsetHigh: testNow.AddDate(0, 0, -51),
			Size: 14.0 / 3600, SizeLow: 11.0 / 3600, SizeHigh: 17.0 / 3600, SizeUnit: "m3/s", Confidence: 0.9,
			Where:          []finding.Place{{Part: "run:trunk 5", Probability: 0.55}, {Part: "run:trunk 4", Probability: 0.3}, {Part: "several", Members: []string{"drop:band saw gate", "seat:band saw gate"}, Probability: 0.15}},
			ConfusableWith: []string{"a gate seat that wears", "a hose that was lengthened"},
			Text:           "A leak grows on the trunk side: about 14 m³/h at 1 500 Pa since late September, and 7 m³/h more each month.",
			Action:         "With the fan locked out, look along the seams and joints between the band saw’s wye and the stair router’s wye; feel for the gap, then re-seal.",
			Evidence:       "Closed checks on 34 days; the filter as flow meter."},
		{ID: "main/air-short/tenoner", Collector: "main", Kind: finding.AirShort, Subject: "tenoner", Priority: finding.ActToday, Raised: testNow.Add(-50 * time.Minute), Onset: testNow.Add(-3 * time.Hour),
			Size: 0.83, SizeLow: 0.78, SizeHigh: 0.88, SizeUnit: "1", Confidence: 0.9, ConfusableWith: []string{"the drop partly blocked", "its gate not fully open"},
			Text: "The tenoner gets about 83 % of the air it needs.", Action: "Check that its gate is fully open and its hood is free; shut a gate that is not in use."},
		{ID: "main/sensor-zero/pitot", Collector: "main", Kind: finding.SensorZero, Subject: "main/pitot", Priority: finding.Instrument, Raised: testNow.AddDate(0, 0, -2), Onset: testNow.AddDate(0, 0, -9), OnsetLow: testNow.AddDate(0, 0, -9), OnsetHigh: testNow.AddDate(0, 0, -9), Size: 6.2, SizeLow: 5.9, SizeHigh: 6.5, SizeUnit: "Pa", Confidence: 0.9,
			Text: "The pitot’s zero has moved by 6.2 Pa since Monday last week.", Action: "Look for water in its tube.", Ended: testNow.AddDate(0, 0, -1)},
	}
}

// testSensors are sound ones.
func testSensors() []watch.Sensor {
	at := testNow.Add(-2 * time.Second)
	zero := testNow.Add(-7 * time.Hour)
	return []watch.Sensor{
		{Channel: "main/filter drop", Value: 512.4, At: at, Noise: 5.8, Zero: 0.4, ZeroAt: zero},
		{Channel: "main/trunk", Value: -1642, At: at, Noise: 14, Zero: -0.7, ZeroAt: zero},
		{Channel: "main/pitot", Value: 231, At: at, Noise: 9.2, Zero: 0.1, ZeroAt: zero},
		{Channel: "main/air", Value: 291.4, At: at, Noise: math.NaN(), Zero: math.NaN()},
		{Channel: "gate/tenoner gate", Value: 1, At: testNow.Add(-3 * time.Hour), Noise: math.NaN(), Zero: math.NaN()}, // speaks only when it moves
	}
}

// faultySnapshot has every sensor at fault, no baseline, nothing known, and old readings.
func faultySnapshot() *watch.Snapshot {
	s := testSnapshot()
	c := &s.Collectors[0]
	nan := val(math.NaN(), math.NaN())
	c.Baseline = estimate.Baseline{Lacks: "the tenoner’s gate has not been open alone yet"}
	c.Now = estimate.Now{At: testNow.Add(-26 * time.Hour), FanOn: true, Open: []string{"tenoner gate"}, Flow: nan, Filter: nan, Leakage: nan}
	for _, m := range testMachines {
		c.Now.Machines = append(c.Now.Machines, estimate.MachineAir{Machine: m.name, Open: m.name == "tenoner", Flow: nan, Needs: math.NaN()})
	}
	c.Days = nil
	for i := range c.Sensors {
		x := &c.Sensors[i]
		x.Value, x.At, x.Fault, x.Since = math.NaN(), testNow.Add(-26*time.Hour), "does not answer", testNow.Add(-26*time.Hour)
	}
	c.Findings = nil
	for i, k := range []finding.Kind{finding.SensorLost, finding.SensorStuck, finding.SensorPlugged, finding.SensorDisagrees} {
		c.Findings = append(c.Findings, finding.Finding{ID: fmt.Sprintf("main/%s/%d", k, i), Collector: "main", Kind: k, Subject: c.Sensors[i].Channel,
			Priority: finding.Instrument, Raised: testNow.Add(-26 * time.Hour), Size: math.NaN(), SizeLow: math.NaN(), SizeHigh: math.NaN(),
			Text: "The sensor on " + c.Sensors[i].Channel + " has not answered since yesterday 12:05.", Action: "Look at its plug and its cable."})
	}
	return s
}
