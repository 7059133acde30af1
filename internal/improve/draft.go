package improve

import (
	"fmt"
	"maps"
	"slices"

	"ductward/internal/shop"
)

// draft is a copy of a collector's drawing that a change may be drawn into, with the filter's resistance over that of the
// clean one, which a change may better as well.
type draft struct {
	*shop.Collector
	filter float64
	part   map[string]string // by run that a change put in: the drawn run whose place it takes
	bought bill              // what the last change needs

	renewed map[string]bool // by drawn run: its pipe or its elbows were bought anew
	again   bool            // the last change buys a run anew that an earlier one had renewed
}

// newDraft copies a drawing. Whatever a change may touch is the copy's own; the rest is shared and only read. The sensors
// are left out: nobody asks what they would read.
func newDraft(c *shop.Collector, filter float64) *draft {
	own := *c
	own.Sensors = nil
	own.Network = &shop.Network{Stubs: slices.Clone(c.Network.Stubs)}
	for _, r := range c.Network.Runs {
		run := *r
		run.Fittings = slices.Clone(r.Fittings)
		own.Network.Runs = append(own.Network.Runs, &run)
	}
	for _, j := range c.Network.Junctions {
		junction := *j
		own.Network.Junctions = append(own.Network.Junctions, &junction)
	}
	own.Gates = nil
	for _, g := range c.Gates {
		gate := *g
		own.Gates = append(own.Gates, &gate)
	}
	if c.Discharge != nil {
		discharge := *c.Discharge
		own.Discharge = &discharge
	}
	return &draft{Collector: &own, filter: filter, part: map[string]string{}, renewed: map[string]bool{}}
}

// with is a copy of the draft with a change drawn in; what was bought before is not bought again.
func (d *draft) with(ch change) *draft {
	out := newDraft(d.Collector, d.filter)
	maps.Copy(out.part, d.part)
	maps.Copy(out.renewed, d.renewed)
	ch.draw(out)
	return out
}

// renew notes that a run is bought anew.
func (d *draft) renew(run string) {
	name := d.drawn(run)
	d.again = d.again || d.renewed[name]
	d.renewed[name] = true
}

// drawn is the name that a run has in the drawing, which is that of the run whose place it takes.
func (d *draft) drawn(run string) string {
	if of, put := d.part[run]; put {
		return of
	}
	return run
}

// insert puts a new run behind another one in the list, as a part of it.
func (d *draft) insert(behind *shop.Run, piece shop.Run, what string) *shop.Run {
	piece.Was = nil
	piece.Name = d.free(behind.Name + " " + what)
	d.part[piece.Name] = d.drawn(behind.Name)
	i := slices.Index(d.Network.Runs, behind)
	d.Network.Runs = slices.Insert(d.Network.Runs, i+1, &piece)
	return &piece
}

// free is a name that no run has.
func (d *draft) free(name string) string {
	for i := 2; d.Run(name) != nil; i++ {
		name = fmt.Sprintf("%s %d", name, i)
	}
	return name
}
