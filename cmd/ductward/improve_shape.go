package main

import (
	"math"

	"ductward/internal/improve"
)

func improveCollector(a *improve.Answer) improveCollectorJSON {
	c := improveCollectorJSON{
		Name: a.Collector, Sentence: a.First(), Filter: number(a.Filter), Least: number(a.Least), Bare: number(a.Bare), Currency: word(a.Currency),
		Sets: []improveSetJSON{}, Short: a.Short, Tight: a.Tight, Needy: []improveNeedyJSON{}, Advised: improveProposals(a, a.Advised),
		Refused: improveProposals(a, a.Refused), Steps: []improveStepJSON{}, Tried: a.Tried, Idle: a.Idle, Lost: a.Lost,
		Locked: append([]string{}, a.Locked...), Unstated: append([]string{}, a.Unstated...),
	}
	for _, s := range a.Sets {
		c.Sets = append(c.Sets, improveSetJSON{openIn(s), number(s.Needs), s.Beyond, s.Counts()})
	}
	for _, n := range a.Needy {
		c.Needy = append(c.Needy, improveNeedyJSON{n.Machine, number(n.Needs), number(n.Flow), openIn(n.Worst), n.Sets, n.Open})
	}
	for _, s := range a.Steps {
		c.Steps = append(c.Steps, improveStepJSON{improveProposal(a, s.Proposal), number(s.Total), append([]string{}, s.Still...)})
	}
	return c
}

func improveProposals(a *improve.Answer, list []improve.Proposal) []improveProposalJSON {
	out := []improveProposalJSON{}
	for _, p := range list {
		out = append(out, improveProposal(a, p))
	}
	return out
}

func improveProposal(a *improve.Answer, p improve.Proposal) improveProposalJSON {
	out := improveProposalJSON{
		Kind: string(p.Kind), Place: p.Place, Text: p.Text, Assumes: append([]string{}, p.Assumes...), Gain: number(p.Gain),
		Gains: []improveGainJSON{}, Losses: []improveLossJSON{}, Since: []improveAgainstJSON{}, Reason: word(p.Why(a.Least)), Short: p.Short,
		Needs: []improveItemJSON{}, Cost: number(p.Cost), PerMoney: number(p.PerMoney()), Without: append([]string{}, p.Without...),
	}
	for _, g := range p.Gains {
		out.Gains = append(out.Gains, improveGainJSON{g.Machine, number(g.Air), openIn(g.Worst), number(g.Before), number(g.After), number(g.Needs), g.Sets, g.Served})
	}
	for _, l := range p.Losses {
		out.Losses = append(out.Losses, improveLossJSON{l.Machine, openIn(l.Set), number(l.Before), number(l.After), l.NewlyShort})
	}
	for _, s := range p.Since {
		out.Since = append(out.Since, improveAgainst(s))
	}
	for _, i := range p.Needs {
		diameter := i.Diameter
		if diameter == 0 {
			diameter = math.NaN()
		}
		out.Needs = append(out.Needs, improveItemJSON{i.What, number(diameter), number(i.Amount), number(i.Each)})
	}
	return out
}

// improveAgainst tells a reason by the numbers that it has: of dust or of suction.
func improveAgainst(s improve.Against) improveAgainstJSON {
	nan := number(math.NaN())
	if s.Run == "" {
		return improveAgainstJSON{openIn(s.Set), "", nan, nan, number(s.Suction), number(s.Rating)}
	}
	return improveAgainstJSON{openIn(s.Set), word(s.Run), number(s.Velocity), number(s.Before), nan, nan}
}

// openIn lists the machines of a set.
func openIn(s improve.Set) []string { return append([]string{}, s.Machines...) }
