package main

import (
	"io"

	"ductward/internal/balance"
)

// The shapes below are a contract with other programs: keys are added, never renamed or given another meaning.

type balanceJSON struct {
	Collectors []balanceCollectorJSON `json:"collectors"`
}

type balanceCollectorJSON struct {
	Name      string               `json:"name"`
	Transport number               `json:"transport_velocity_m_s"`
	Rating    number               `json:"rating_pa"`
	Filter    []number             `json:"filter_resistance"`
	Served    bool                 `json:"all_served"`
	AllSets   bool                 `json:"all_sets"`
	AllUpTo   int                  `json:"all_sets_up_to"`
	Solved    int                  `json:"states_solved"`
	Lost      int                  `json:"states_without_balance"`
	Safe      int                  `json:"safe_sets"`
	Fine      []int                `json:"fine_sets"`
	WithAir   []int                `json:"sets_with_air"`
	Together  []balanceSetJSON     `json:"together"`
	FirstOnly []balanceSetJSON     `json:"not_at_filter_limit"`
	AirOnly   []balanceSetJSON     `json:"air_only"`
	Machines  []balanceMachineJSON `json:"machines"`
	SlowRuns  []balanceRunJSON     `json:"runs_that_never_carry"`
}

type balanceSetJSON struct {
	Machines []string          `json:"machines"`
	At       []balanceFareJSON `json:"at"`
}

type balanceFareJSON struct {
	Filter   number            `json:"filter_resistance"`
	Fine     bool              `json:"fine"`
	FanFlow  number            `json:"fan_flow_m3_s"`
	Suction  number            `json:"suction_pa"`
	Slowest  word              `json:"slowest_run"`
	Velocity number            `json:"slowest_velocity_m_s"`
	Tightest word              `json:"tightest_machine"`
	Slack    number            `json:"tightest_spare_share"`
	Open     []balanceFlowJSON `json:"open"`
	Wrong    word              `json:"wrong"`
}

type balanceFlowJSON struct {
	Name  string `json:"name"`
	Flow  number `json:"flow_m3_s"`
	Needs number `json:"needed_m3_s"`
}

type balanceMachineJSON struct {
	Name   string            `json:"name"`
	Needs  number            `json:"needed_m3_s"`
	Served string            `json:"served"`
	Alone  []balanceFareJSON `json:"alone"`
	With   [][]string        `json:"must_be_open_as_well"`
	Sets   int               `json:"safe_sets"`
	Most   int               `json:"machines_in_largest"`
	Why    word              `json:"why"`
}

type balanceRunJSON struct {
	Name     string   `json:"name"`
	Diameter number   `json:"diameter_m"`
	Best     number   `json:"best_velocity_m_s"`
	With     []string `json:"best_with"`
	Sweep    []string `json:"sweep_with"`
	Velocity number   `json:"sweep_velocity_m_s"`
}

// writeBalanceJSON writes all collectors as one object.
func writeBalanceJSON(w io.Writer, answers []*balance.Answer) error {
	out := balanceJSON{Collectors: []balanceCollectorJSON{}}
	for _, a := range answers {
		out.Collectors = append(out.Collectors, balanceCollector(a))
	}
	return writeJSON(w, out)
}

func balanceCollector(a *balance.Answer) balanceCollectorJSON {
	c := balanceCollectorJSON{
		Name: a.Collector, Transport: number(a.Least), Rating: number(a.Rating), Served: a.Served(),
		AllSets: a.All, AllUpTo: a.Whole, Solved: a.Solved, Lost: a.Lost, Safe: a.Safe, Fine: a.Fine, WithAir: a.Fed,
		Together: balanceSets(a, a.Together), FirstOnly: balanceSets(a, a.FirstOnly), AirOnly: balanceSets(a, a.AirOnly),
		Machines: []balanceMachineJSON{}, SlowRuns: []balanceRunJSON{},
	}
	for _, ratio := range a.Filter {
		c.Filter = append(c.Filter, number(ratio))
	}
	for _, m := range a.Machines {
		c.Machines = append(c.Machines, balanceMachineJSON{
			Name: m.Name, Needs: number(m.Needs), Served: m.Served.String(), Alone: balanceFares(a, m.Alone),
			With: append([][]string{}, m.With...), Sets: m.Sets, Most: m.Most, Why: word(m.Why),
		})
	}
	for _, r := range a.Runs {
		c.SlowRuns = append(c.SlowRuns, balanceRunJSON{r.Name, number(r.Diameter), number(r.Best),
			append([]string{}, r.With...), append([]string{}, r.Sweep...), number(r.Velocity)})
	}
	return c
}

func balanceSets(a *balance.Answer, sets []balance.Together) []balanceSetJSON {
	out := []balanceSetJSON{}
	for _, s := range sets {
		out = append(out, balanceSetJSON{s.Machines, balanceFares(a, s.At)})
	}
	return out
}

func balanceFares(a *balance.Answer, fares []balance.Fare) []balanceFareJSON {
	out := []balanceFareJSON{}
	for i, f := range fares {
		j := balanceFareJSON{
			Filter: number(a.Filter[i]), Fine: f.Fine, FanFlow: number(f.FanFlow), Suction: number(f.Suction),
			Slowest: word(f.Slowest), Velocity: number(f.Velocity), Tightest: word(f.Tightest), Slack: number(f.Slack),
			Open: []balanceFlowJSON{}, Wrong: word(f.Wrong),
		}
		for _, m := range f.Open {
			j.Open = append(j.Open, balanceFlowJSON{m.Name, number(m.Flow), number(m.Needs)})
		}
		out = append(out, j)
	}
	return out
}
