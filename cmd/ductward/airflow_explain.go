package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"ductward/internal/duct"
	"ductward/internal/shop"
)

// explain adds the ways of the machines that --explain names. A name that two collectors have is COLLECTOR/NAME.
func explain(s *shop.Shop, solved []solvedCollector, names []string) error {
	for _, n := range names {
		at, machine, err := solvedWith(s, solved, strings.TrimSpace(n))
		if err != nil {
			return usage("--explain: %w", err)
		}
		path, err := at.model.Explain(at.result, machine)
		var shut *duct.NotJoinedError
		switch {
		case errors.As(err, &shut) && len(shut.Shut) > 0:
			return usage("--explain: %w; open it with --open %q", err, n)
		case err != nil:
			return err
		}
		at.paths = append(at.paths, path)
	}
	return nil
}

// solvedWith finds the solved collector that serves a machine.
func solvedWith(s *shop.Shop, solved []solvedCollector, name string) (*solvedCollector, string, error) {
	var found *solvedCollector
	var machine string
	for i := range solved {
		c := &solved[i]
		local := strings.TrimPrefix(name, c.name+"/")
		if c.shop.Machine(local) == nil {
			continue
		}
		if found != nil {
			return nil, "", fmt.Errorf("collectors %s and %s both have a machine %q; write %q", found.name, c.name, name, found.name+"/"+name)
		}
		found, machine = c, local
	}
	if found == nil {
		_, err := collectorOfMachine(s, name)
		return nil, "", err
	}
	return found, machine, nil
}

// writePaths writes each way as a table, what costs most first.
func writePaths(w io.Writer, solved []solvedCollector) error {
	first := true
	for i := range solved {
		for _, p := range solved[i].paths {
			if !first {
				fmt.Fprintln(w)
			}
			first = false
			if err := writePath(w, &solved[i], p); err != nil {
				return err
			}
		}
	}
	return nil
}

func writePath(w io.Writer, c *solvedCollector, p *duct.Path) error {
	fmt.Fprint(w, paragraph(fmt.Sprintf("%s, collector %s: %s", p.Machine, c.name, supply(c, p))))
	fmt.Fprint(w, paragraph("Its way to the room, with what costs most first; step 1 is where the air enters."))
	fmt.Fprintln(w)
	if err := pathTable(p).write(w); err != nil {
		return err
	}
	sum := fmt.Sprintf("together %s Pa, which is the fan's rise", cell(p.Loss(), 0))
	if p.Inlet > 0 {
		sum += fmt.Sprintf(" once its poor inlet has taken %s Pa", cell(p.Inlet, 0))
	}
	_, err := fmt.Fprint(w, "\n", paragraph(sum))
	return err
}

// supply tells the air of a machine against its need, and how much of it goes the way that is explained.
func supply(c *solvedCollector, p *duct.Path) string {
	var text string
	for _, m := range c.result.Machines {
		if m.Name != p.Machine {
			continue
		}
		text = cell(m.Flow*secondsPerHour, 0) + " m³/h"
		if m.Needs > 0 {
			text += fmt.Sprintf(" where it needs %s", cell(m.Needs*secondsPerHour, 0))
		}
		if p.Flow < m.Flow*(1-1e-6) {
			text += fmt.Sprintf(", %s of it by the hood with most air, whose way this is", cell(p.Flow*secondsPerHour, 0))
		}
	}
	return text
}

func pathTable(p *duct.Path) *table {
	worst := p.WorstFirst()
	wide := 0
	for i := range worst {
		wide = max(wide, utf8.RuneCountInString(placeOf(&worst[i])))
	}
	t := &table{heads: []string{"step", "Pa", "share", "<what", "<where", "m/s", "loss coeff."}}
	for i := range worst {
		e := &worst[i]
		t.add(fmt.Sprintf("%4d", e.Step), cell(e.Loss, 0), percent(e.Loss/p.Rise),
			cutTo(whatOf(e), max(24, tableWidth-wide-41)), placeOf(e), known(e.Velocity, 1), known(e.Coefficient, 2))
	}
	return t
}

// whatOf names an element in its owner's words, if the file has some.
func whatOf(e *duct.Element) string {
	if e.Words == "" {
		return e.What
	}
	return fmt.Sprintf("%s (%s)", e.Words, e.What)
}

// placeOf names where an element is.
func placeOf(e *duct.Element) string {
	if e.Name != "" {
		return e.Name
	}
	return e.Run
}

// percent writes a share.
func percent(share float64) string { return cell(100*share, 0) + " %" }

// known writes a number, and nothing where there is none.
func known(v float64, decimals int) string {
	if math.IsNaN(v) {
		return ""
	}
	return cell(v, decimals)
}
