package worth

import (
	"fmt"
	"math"

	"ductward/internal/air"
	"ductward/internal/bound"
	"ductward/internal/duct"
	"ductward/internal/shop"
	"ductward/internal/verdict"
)

// leastLeakage is the factor on the designed leakage with which suction is judged: ducts may be tighter than they are
// drawn, and the suction is then at its largest.
const leastLeakage = 0.2

// Refused is something that is not proposed, with the reason.
type Refused struct{ Text, Reason string }

// checks lists the closed checks that could be added to those that there are, or why none is.
func checks(c *shop.Collector, a air.State, now bound.Checks) ([]Candidate, *Refused, error) {
	if now == bound.DailyCheck {
		return nil, nil, nil
	}
	reason, err := whyNotShut(c, a)
	if err != nil {
		return nil, nil, err
	}
	if reason != "" {
		return nil, &Refused{"the fan running with every gate shut", reason}, nil
	}
	out := []Candidate{{Kind: DailyCheck, Checks: bound.DailyCheck,
		Text: "two minutes with every gate shut each morning"}}
	if now == bound.NoChecks {
		out = append(out, Candidate{Kind: FridayTest, Checks: bound.WeeklyCheck,
			Text: "ten minutes with every gate shut once a week"})
	}
	return out, nil, nil
}

// whyNotShut tells why the fan may not be asked to run with every gate shut; "" where the ducts are known to bear it. Each
// run is judged by its own rating, else by the collector's.
func whyNotShut(c *shop.Collector, a air.State) (string, error) {
	shut, err := c.SettingFor(nil)
	if err != nil {
		return "", err
	}
	m, err := duct.New(c)
	if err != nil {
		return "", err
	}
	res, err := m.Solve(duct.State{Setting: shut, Air: a, LeakFactor: leastLeakage})
	if err != nil {
		return "", fmt.Errorf("every gate shut: %w", err)
	}
	for _, machine := range res.Machines {
		if machine.Open {
			return fmt.Sprintf("%s cannot be shut off", machine.Name), nil
		}
	}
	for i, r := range verdict.For(c).Runs(res) {
		switch {
		case math.IsNaN(r.Rating):
			return fmt.Sprintf("what suction %s bears is not known (rating)", c.Network.Runs[i].Name), nil
		case !r.Bears():
			return fmt.Sprintf("%s would have to bear %.0f Pa and is rated for %.0f Pa", c.Network.Runs[i].Name, r.Suction, r.Rating), nil
		}
	}
	if c.Rating > 0 && -res.InletStatic > c.Rating {
		return fmt.Sprintf("the inlet would have to bear %.0f Pa and is rated for %.0f Pa", -res.InletStatic, c.Rating), nil
	}
	return "", nil
}
