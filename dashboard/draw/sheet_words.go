package draw

import (
	"fmt"
	"slices"
	"strings"

	"ductward/internal/shop"
)

// hour is the seconds of an hour: m³/s become m³/h.
const hour = 3600

func (f Figures) flow(v float64) string {
	if f.Flow != nil {
		return f.Flow(v)
	}
	return signed("%.0f", v*hour) + "\u00a0m³/h"
}

func (f Figures) need(v float64) string {
	if f.Need != nil {
		return f.Need(v)
	}
	return signed("%.0f", v*hour) + "\u00a0m³/h"
}

func (f Figures) velocity(v float64) string {
	if f.Velocity != nil {
		return f.Velocity(v)
	}
	return signed("%.1f", v) + "\u00a0m/s"
}

func (f Figures) pressure(v float64) string {
	if f.Pressure != nil {
		return f.Pressure(v)
	}
	return signed("%.0f", v) + "\u00a0Pa"
}

func (f Figures) diameter(v float64) string {
	if f.Diameter != nil {
		return f.Diameter(v)
	}
	return fmt.Sprintf("%.0f", v*1000)
}

func (f Figures) diameterUnit() string {
	if f.DiameterUnit != "" {
		return f.DiameterUnit
	}
	return "mm"
}

// unitless is a figure without its unit, which stands behind the last space that does not break.
func unitless(figure string) string {
	if i := strings.LastIndex(figure, "\u00a0"); i > 0 {
		return figure[:i]
	}
	return figure
}

// signed writes a number with a minus that is as wide as a digit, and never as "−0".
func signed(format string, v float64) string {
	text := fmt.Sprintf(format, v)
	if digits := strings.TrimPrefix(text, "-"); digits != text {
		if strings.Trim(digits, "0.") == "" {
			return digits
		}
		return "−" + digits
	}
	return text
}

// label is what stands beside a run: its name with its diameter, what there is to say of it, and its figures.
type label struct {
	name    string
	more    string // "" where there is nothing
	figures string
	leaks   bool // more tells of a leak
	slow    bool // dust may settle
}

// label of one run of a limb.
func (k *sheet) label(l *limb, i int) label {
	r := l.runs[i]
	out := label{name: k.shorten(r.Name)}
	if r.Diameter > 0 {
		out.name += " ⌀" + k.Figures.diameter(r.Diameter)
	}
	more := k.more(l, i)
	a, ok := k.p.run(r.Name)
	switch {
	case !ok && !k.Now.FanOn:
		out.figures = "no air"
	case !ok || !known(a.Flow):
		out.figures = "not known"
	default:
		out.figures = k.Figures.flow(a.Flow) + " · " + k.Figures.velocity(a.Velocity)
		if a.Settles {
			out.figures, out.slow = out.figures+", slow", true
		}
		if known(a.Static) {
			out.figures += " · " + k.Figures.pressure(a.Static)
		}
		if a.Velocity < -0.5 {
			more = append(more, "backwards")
		}
	}
	for _, leak := range k.leaksAt(r) {
		more, out.leaks = append(more, leak.Words), true
	}
	out.more = strings.Join(more, ", ")
	return out
}

// more lists what a run begins with: a selector with what it is set to, a splitter, a ring that parts.
func (k *sheet) more(l *limb, i int) []string {
	var out []string
	r := l.runs[i]
	if j := k.junctionAt(l); j != nil && i == 0 && j.Kind == shop.Splitter {
		out = append(out, "splitter")
	}
	if r.From.Kind == shop.EndSelector {
		out = append(out, k.stands(r.From.Name))
	}
	if letter, ok := k.cuts.parts[r.Name]; ok {
		out = append(out, "also leads to "+letter)
	}
	if k.branches[r.Name] {
		out = append(out, "enters as the branch")
	}
	return out
}

// stands says what a selector is set to.
func (k *sheet) stands(name string) string {
	s := k.Collector.Selector(name)
	if s == nil {
		return k.shorten(name)
	}
	for _, port := range s.Ports {
		m, ok := k.p.machine(port)
		if r := k.runNamed(port); !s.Hose && r != nil {
			ok = k.openTowards(r)
		} else {
			ok = ok && m.Open
		}
		if ok {
			return k.shorten(name) + " on " + k.shorten(port)
		}
	}
	return k.shorten(name) + " shut"
}

// runNamed finds a run of the drawing.
func (k *sheet) runNamed(name string) *shop.Run {
	for _, r := range k.Collector.Network.Runs {
		if r.Name == name {
			return r
		}
	}
	return nil
}

// openTowards tells whether an open machine sends its air through a run.
func (k *sheet) openTowards(r *shop.Run) bool {
	for _, m := range k.p.Now.Machines {
		if m.Open && slices.Contains(k.Collector.PathOf(m.Machine), r) {
			return true
		}
	}
	return false
}

// leaksAt lists the leaks that are drawn at a run: its own, those at its gate, and those at the machine where it begins.
func (k *sheet) leaksAt(r *shop.Run) []SheetLeak {
	var out []SheetLeak
	for _, leak := range k.Leaks {
		kind, name, _ := strings.Cut(leak.Part, ":")
		switch {
		case kind == "run" && name == r.Name,
			(kind == "seat" || kind == "drop") && r.Gate != "" && name == r.Gate,
			kind == "open-side" && r.From.Kind == shop.EndMachine && r.From.Name == name:
			if !slices.ContainsFunc(out, func(o SheetLeak) bool { return o.Words == leak.Words }) { // a gate's drop and its seat are one place to look
				out = append(out, leak)
			}
		}
	}
	return out
}

// rowName is what stands at the far end of a row, with a second line and whether that is bad news.
func (k *sheet) rowName(l *limb) (name, figure string, short bool) {
	switch l.leaf.kind {
	case stubLeaf:
		return k.shorten(l.leaf.name), "capped", false
	case ringLeaf:
		return "ring, cut at " + k.cuts.letter[l], "from " + k.shorten(l.leaf.name), false
	}
	name = k.shorten(l.leaf.name)
	m, ok := k.p.machine(l.leaf.name)
	switch {
	case !ok:
		return name, "", false
	case !m.Open:
		return name, "shut", false
	case !known(m.Flow.V):
		return name, "air not known", false
	case !known(m.Needs) || m.Needs <= 0:
		return name, "gets " + k.Figures.flow(m.Flow.V), false
	}
	figure = unitless(k.Figures.flow(m.Flow.V)) + " of " + k.Figures.need(m.Needs)
	if k.p.Now.FanOn && m.Flow.V+ninety*spread(m.Flow.SE) < m.Needs {
		return name, "short: " + figure, true
	}
	return name, figure, false
}

// spread takes an unknown standard error as none.
func spread(se float64) float64 {
	if known(se) {
		return se
	}
	return 0
}

// cuts are the places where rings are cut open to be drawn.
type cuts struct {
	letter map[*limb]string  // by far end
	parts  map[string]string // by the name of the run that is drawn at the junction where the ring parts: letters
}

// ringCuts gives every cut its letter.
func ringCuts(root *limb) cuts {
	c := cuts{map[*limb]string{}, map[string]string{}}
	var all []*limb
	var walk func(*limb)
	walk = func(l *limb) {
		all = append(all, l)
		for _, kid := range l.kids {
			walk(kid)
		}
	}
	walk(root)
	for _, l := range all {
		if l.leaf == nil || l.leaf.kind != ringLeaf {
			continue
		}
		c.letter[l] = letter(len(c.letter))
		for _, other := range all {
			for _, r := range other.runs {
				if r.From.Kind == shop.EndJunction && r.From.Name == l.leaf.name && !slices.Contains(l.runs, r) && c.parts[r.Name] == "" {
					c.parts[r.Name] = c.letter[l]
				}
			}
		}
	}
	return c
}

// letter counts A, B, …, Z, AA, AB, …
func letter(n int) string {
	if n < 26 {
		return string(rune('A' + n))
	}
	return letter(n/26-1) + string(rune('A'+n%26))
}
