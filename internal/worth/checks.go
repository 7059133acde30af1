package worth

import (
	"fmt"

	"ductward/internal/bound"
	"ductward/internal/duct"
	"ductward/internal/shop"
	"ductward/internal/verdict"
)

// Refused is something that is not proposed, with the reason.
type Refused struct{ Text, Reason string }

// checks lists the closed checks that could be added to those that there are, or why none is.
func checks(c *shop.Collector, q Question) ([]Candidate, *Refused, error) {
	now := q.Habits.Checks
	if now == bound.DailyCheck {
		return nil, nil, nil
	}
	reason, err := whyNotShut(c, q)
	if err != nil {
		return nil, nil, err
	}
	if reason != "" {
		return nil, &Refused{"the fan running with every gate shut", reason}, nil
	}
	out := []Candidate{{Kind: DailyCheck, Checks: bound.DailyCheck, Text: "two minutes with every gate shut each morning"}}
	if now == bound.NoChecks {
		out = append(out, Candidate{Kind: FridayTest, Checks: bound.WeeklyCheck, Text: "ten minutes with every gate shut once a week"})
	}
	return out, nil, nil
}

// whyNotShut tells why the fan may not be asked to run with every gate shut; "" where every run is known to be rated, by
// itself or with the collector, for the most that the fan could pull: whatever the leakage, it cannot be more.
func whyNotShut(c *shop.Collector, q Question) (string, error) {
	shut, err := c.SettingFor(nil)
	if err != nil {
		return "", err
	}
	m, err := duct.New(c)
	if err != nil {
		return "", err
	}
	res, err := m.Solve(duct.State{Setting: shut, Air: q.Air})
	if err != nil {
		return "", fmt.Errorf("every gate shut: %w", err)
	}
	for _, machine := range res.Machines {
		if machine.Open {
			return fmt.Sprintf("%s cannot be shut off", machine.Name), nil
		}
	}
	most := m.LargestRise(q.Densest.Density)
	for i, r := range verdict.For(c).Runs(res) {
		switch {
		case !(r.Rating > 0):
			return fmt.Sprintf("what suction %s bears is not known (rating)", c.Network.Runs[i].Name), nil
		case r.Rating < most:
			return fmt.Sprintf("%s might have to bear %.0f Pa in the densest air and is rated for %.0f Pa", c.Network.Runs[i].Name, most, r.Rating), nil
		}
	}
	return "", nil
}
