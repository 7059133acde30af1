package main

import (
	"fmt"
	"io"
	"strings"

	"ductward/internal/estimate"
)

// nextTestJSON is the test that would narrow the suspects of a finding most.
type nextTestJSON struct {
	Finding  string         `json:"finding"`
	Entropy  number         `json:"entropy_bits"`
	Suspects []placeJSON    `json:"suspects"`
	Tests    []proposalJSON `json:"tests"`
	Refused  int            `json:"refused_sets"`
	Reason   word           `json:"reason"`
}

// proposalJSON is one set of gates to be run while every machine is idle.
type proposalJSON struct {
	Open      []string       `json:"open"`
	Ports     map[string]int `json:"selectors"`
	Duration  number         `json:"duration_s"`
	Gain      number         `json:"gain_bits"`
	Likeliest number         `json:"likeliest_after"`
	Reason    string         `json:"reason"`
}

// newNextTestJSON is null where nothing is left to be told apart.
func newNextTestJSON(n *estimate.NextTest) *nextTestJSON {
	if n == nil {
		return nil
	}
	out := &nextTestJSON{Finding: n.Finding, Entropy: number(n.Entropy), Suspects: []placeJSON{}, Tests: []proposalJSON{},
		Refused: n.Refused, Reason: word(n.Reason)}
	for _, p := range n.Suspects {
		out.Suspects = append(out.Suspects, placeJSON{p.Part, p.Members, number(p.Probability)})
	}
	for _, p := range n.Tests {
		out.Tests = append(out.Tests, proposalJSON{p.Open, p.Ports, number(p.Duration.Seconds()), number(p.Gain), number(p.Likeliest), p.Reason})
	}
	return out
}

// writeNextTest writes for a person which gates to open next.
func writeNextTest(w io.Writer, n *estimate.NextTest) {
	if n == nil {
		return
	}
	fmt.Fprintf(w, "\nnext test, for %s\n", n.Finding)
	for _, p := range n.Tests {
		fmt.Fprintf(w, "  with every machine idle, %s for %d minutes: should tell %s of %s bits. %s\n", onlyOpen(&p),
			int(p.Duration.Minutes()), cell(p.Gain, 2), cell(n.Entropy, 2), p.Reason)
	}
	if n.Reason != "" {
		fmt.Fprintf(w, "  %s\n", n.Reason)
	}
}

// onlyOpen says which gates are open in a test.
func onlyOpen(p *estimate.Proposal) string {
	if len(p.Open) == 0 {
		return "all gates shut"
	}
	return "open only " + strings.Join(p.Open, ", ")
}
