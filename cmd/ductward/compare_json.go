package main

import (
	"io"

	"ductward/internal/compare"
)

// The shapes below are a contract with other programs: keys are added, never renamed or given another meaning. Where a
// key holds two values, the first is the first drawing's.

type compareJSON struct {
	Worse      bool                   `json:"worse"`
	OnlyIn     [2][]string            `json:"collectors_only_in"`
	Collectors []compareCollectorJSON `json:"collectors"`
}

type compareCollectorJSON struct {
	Name      string               `json:"name"`
	Was       word                 `json:"was"`
	Filter    number               `json:"filter_resistance"`
	Transport [2]number            `json:"transport_velocity_m_s"`
	Renamed   [][2]string          `json:"renamed"`
	Machines  [2][]string          `json:"machines_only_in"`
	Gates     [2][]string          `json:"gates_only_in"`
	Selectors [2][]string          `json:"selectors_only_in"`
	AllPairs  bool                 `json:"all_pairs"`
	Worse     bool                 `json:"worse"`
	Summary   []compareMachineJSON `json:"machines"`
	Sets      []compareSetJSON     `json:"sets"`
}

type compareMachineJSON struct {
	Name     string             `json:"name"`
	Was      word               `json:"was"`
	Needs    [2]number          `json:"needed_m3_s"`
	Sets     int                `json:"sets"`
	Alone    *compareChangeJSON `json:"alone"`
	Least    number             `json:"least_gain_share"`
	LeastIn  []string           `json:"least_gain_with"`
	Most     number             `json:"most_gain_share"`
	MostIn   []string           `json:"most_gain_with"`
	Short    [2]int             `json:"sets_short"`
	NowShort int                `json:"sets_now_short"`
	NowFed   int                `json:"sets_no_longer_short"`
}

type compareSetJSON struct {
	Asked    word                `json:"asked"`
	Machines []string            `json:"open"`
	Missing  [2][]string         `json:"missing"`
	Worse    bool                `json:"worse"`
	Sides    [2]*compareSideJSON `json:"drawings"`
	Changes  []compareChangeJSON `json:"machines"`
	NowSlow  []string            `json:"runs_now_slow"`
	NowCarry []string            `json:"runs_no_longer_slow"`
}

type compareSideJSON struct {
	Flow    number `json:"fan_flow_m3_s"`
	Rise    number `json:"fan_pressure_rise_pa"`
	Filter  number `json:"filter_drop_pa"`
	Suction number `json:"suction_pa"`
	Rating  number `json:"rating_pa"`
}

type compareChangeJSON struct {
	Name  string    `json:"name"`
	Open  [2]bool   `json:"open"`
	Flow  [2]number `json:"flow_m3_s"`
	Needs [2]number `json:"needed_m3_s"`
	Short [2]bool   `json:"short"`
	Share number    `json:"gain_share"`
}

// writeCompareJSON writes all collectors as one object.
func writeCompareJSON(w io.Writer, c *compared) error {
	out := compareJSON{OnlyIn: neverNull(c.only), Collectors: []compareCollectorJSON{}}
	for _, a := range c.answers {
		out.Worse = out.Worse || a.Worse()
		out.Collectors = append(out.Collectors, compareCollector(a, c.filter))
	}
	return writeJSON(w, out)
}

func compareCollector(a *compare.Answer, filter float64) compareCollectorJSON {
	c := compareCollectorJSON{
		Name: a.Collector, Was: word(a.Was), Filter: number(filter), Transport: numbers(a.Least),
		Renamed: append([][2]string{}, a.Renamed...), Machines: neverNull(a.OnlyMachines), Gates: neverNull(a.OnlyGates),
		Selectors: neverNull(a.OnlySelectors), AllPairs: a.AllPairs, Worse: a.Worse(),
		Summary: []compareMachineJSON{}, Sets: []compareSetJSON{},
	}
	for _, m := range a.Machines {
		j := compareMachineJSON{
			Name: m.Name, Was: word(m.Was), Needs: numbers(m.Needs), Sets: m.Sets, Least: number(m.Least.Share()),
			LeastIn: append([]string{}, m.LeastIn...), Most: number(m.Most.Share()), MostIn: append([]string{}, m.MostIn...),
			Short: m.Short, NowShort: m.NowShort, NowFed: m.NowFed,
		}
		if m.Alone != nil {
			alone := compareChange(*m.Alone)
			j.Alone = &alone
		}
		c.Summary = append(c.Summary, j)
	}
	for i := range a.Sets {
		c.Sets = append(c.Sets, compareSet(&a.Sets[i]))
	}
	return c
}

func compareSet(s *compare.Set) compareSetJSON {
	j := compareSetJSON{
		Asked: word(s.Asked), Machines: append([]string{}, s.Machines...), Missing: neverNull(s.Missing), Worse: s.Worse(),
		Changes: []compareChangeJSON{}, NowSlow: append([]string{}, s.NowSlow...), NowCarry: append([]string{}, s.NowCarry...),
	}
	for i, side := range s.Sides {
		if side != nil {
			j.Sides[i] = &compareSideJSON{number(side.FanFlow), number(side.FanRise), number(side.FilterDrop),
				number(side.Verdict.Suction), number(side.Verdict.Rating)}
		}
	}
	for _, c := range s.Changes {
		j.Changes = append(j.Changes, compareChange(c))
	}
	return j
}

func compareChange(c compare.Change) compareChangeJSON {
	j := compareChangeJSON{Name: c.Machine, Open: c.Open, Needs: numbers(c.Needs), Flow: numbers(c.Flow),
		Short: [2]bool{c.Short(0), c.Short(1)}, Share: number(c.Share())}
	return j
}

func numbers(v [2]float64) [2]number { return [2]number{number(v[0]), number(v[1])} }

// neverNull lists nothing as an empty list.
func neverNull(lists [2][]string) [2][]string {
	return [2][]string{append([]string{}, lists[0]...), append([]string{}, lists[1]...)}
}
