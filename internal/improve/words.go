package improve

import (
	"fmt"
	"math"
)

// m3h writes a flow (m³/s) to the cubic metre an hour.
func m3h(v float64) string { return fmt.Sprintf("%.0f m³/h", v*3600) }

// First is what to do first and what it brings, in a sentence or two.
func (a *Answer) First() string {
	switch {
	case len(a.Needy) == 0:
		return "No machine that can be opened states what it needs, so none can be short of it: write \"needs\" in the shop file."
	case len(a.Steps) == 0 && a.Tight:
		return a.nobodyShort() + " None of the changes that were tried gives it more air without harm."
	case len(a.Steps) == 0:
		return fmt.Sprintf("None of the changes that were tried gives %s more air without harm.", list(names(a.Needy)))
	case a.Tight:
		return a.nobodyShort() + " First " + a.Steps[0].Text + ": " + a.Steps[0].gainWords() + "."
	}
	return "First " + a.Steps[0].Text + ": " + a.Steps[0].gainWords() + "."
}

func (a *Answer) nobodyShort() string {
	n := a.Needy[0]
	return fmt.Sprintf("No machine is short. The tightest is %s, with %s of the %s that it needs, %s.", n.Machine, m3h(n.Flow), m3h(n.Needs), n.Worst.Beside(n.Machine))
}

func names(list []Needy) []string {
	var out []string
	for _, n := range list {
		out = append(out, n.Machine)
	}
	return out
}

// gainWords tells what a change brings the needy machines, and the one that gains most by name.
func (p Proposal) gainWords() string {
	most, gaining := p.Gains[0], 0
	for _, g := range p.Gains {
		if g.Air > most.Air {
			most = g
		}
		if g.Air >= leastGain {
			gaining++
		}
	}
	if gaining < 2 {
		return most.String()
	}
	return fmt.Sprintf("the machines that are short get %s more together; %s", m3h(p.Gain), most)
}

// String tells a gain, and what becomes of the machine where it was worst off.
func (g Gain) String() string {
	text := fmt.Sprintf("%s gets %s more", g.Machine, m3h(g.Air))
	if g.Sets > 1 {
		text += fmt.Sprintf(" in the mean over the %d sets in which it is short", g.Sets)
	}
	return text + fmt.Sprintf(", %.0f instead of %s %s, where it needs %.0f", g.After*3600, m3h(g.Before), g.Worst.Beside(g.Machine), g.Needs*3600)
}

// String tells a loss where it is largest.
func (l Loss) String() string {
	text := fmt.Sprintf("%s loses %s %s", l.Machine, m3h(l.Before-l.After), l.Set.Beside(l.Machine))
	if l.NewlyShort {
		text += fmt.Sprintf(" and is short then: %s of %s", m3h(l.After), m3h(l.Needs))
	}
	return text
}

// Why gives the worst reason against a proposal, and how many more there are; "" where there is none.
func (p Proposal) Why(least float64) string {
	if len(p.Since) == 0 {
		return ""
	}
	text := p.Since[0].words(least)
	if n := len(p.Since) - 1; n == 1 {
		text += "; and one more like it"
	} else if n > 1 {
		text += fmt.Sprintf("; and %d more like it", n)
	}
	return text
}

func (g Against) words(least float64) string {
	if g.Run == "" {
		return fmt.Sprintf("since the suction would be %.0f Pa with %s, where the ducts are rated to bear %.0f Pa", g.Suction, g.Set.Name(), g.Rating)
	}
	text := fmt.Sprintf("since dust would settle in %s with %s: %s of the %.3g m/s that carry it", g.Run, g.Set.Name(), velocity(g.Velocity, least), least)
	if !math.IsNaN(g.Before) {
		text += fmt.Sprintf(" (%s now, which is too slow already)", velocity(g.Before, least))
	}
	return text
}

// velocity writes a speed that is below a limit, with so many decimals that it reads as below it.
func velocity(v, least float64) string {
	for decimals := 1; decimals < 6; decimals++ {
		text := fmt.Sprintf("%.*f", decimals, v)
		if text != fmt.Sprintf("%.*f", decimals, least) {
			return text + " m/s"
		}
	}
	return fmt.Sprintf("%g m/s", v)
}

// Taken tells what a change takes from others: each machine that becomes short, and of the others the one that loses most.
func (p Proposal) Taken() []string {
	var out []string
	var most *Loss
	others := 0
	for i, l := range p.Losses {
		if l.NewlyShort {
			out = append(out, l.String())
			continue
		}
		others++
		if most == nil || l.Before-l.After > most.Before-most.After {
			most = &p.Losses[i]
		}
	}
	switch {
	case others == 1:
		out = append(out, most.String())
	case others == 2:
		out = append(out, fmt.Sprintf("%s; one other loses less", most))
	case others > 2:
		out = append(out, fmt.Sprintf("%s; %d others lose less", most, others-1))
	}
	return out
}
