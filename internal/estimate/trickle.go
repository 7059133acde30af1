package estimate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"gonum.org/v1/gonum/floats"

	"ductward/internal/air"
	"ductward/internal/duct"
)

// What a little air from a leg of a wye does to the stream that passes it is another thing in every law in use, and no baseline
// tells it: no gate is opened so little. A leak in an idle drop is such a trickle, and one in the trunk a run further is none.
// So it is a spread of every place, and that of the drops next to a place counts too.
const (
	littleStraight = 0.15 // standard deviation of duct.State.Trickle of a straight leg
	littleBranch   = 0.50 // and of a branch
)

// leg is a run that ends in a wye, with how well it is known what a little air from it does.
type leg struct {
	name   string
	branch bool
	little float64
}

// legsOf lists the legs of a model's wyes.
func legsOf(m *duct.Model) []leg {
	var out []leg
	for i, name := range m.Legs() { // straight and branch of each wye in turn
		out = append(out, leg{name, i%2 == 1, [2]float64{littleStraight, littleBranch}[i%2]})
	}
	return out
}

// drawLittle draws for some ducts what a little air from each leg does, over them as wide as it is believed: a few draws by
// themselves would be wider or narrower by a fifth.
func (v *viewer) drawLittle(ducts []built) {
	r := rand.New(rand.NewPCG(signatureSeed, otherDucts))
	x := make([]float64, len(ducts))
	for i := range ducts {
		ducts[i].little = map[string]float64{}
	}
	for _, l := range v.legs {
		for i := range x {
			x[i] = r.NormFloat64()
		}
		floats.Scale(l.little*math.Sqrt(float64(len(x)))/floats.Norm(x, 2), x)
		for i := range x {
			ducts[i].little[l.name] = x[i]
		}
	}
}

// rival is a drop that joins the trunk at one end of the run in which a leak is taken to be: a leak there.
type rival struct {
	col int
	leg leg
}

// rivalsOf lists the rivals of a leak's place. What a leak in the place itself trickles through is in the spread of its trace; but
// a drop next to it is told from it by little else than what its trickle does. How improbable it is does not count, since it is
// so without that spread.
func (v *viewer) rivalsOf(col int) []rival {
	if v.cols.kind(col) != leakChange {
		return nil
	}
	name, ok := strings.CutPrefix(v.cols.zones[col], "run:")
	base := v.collector.Run(name)
	if !ok || base == nil {
		return nil
	}
	var out []rival
	for _, l := range v.legs {
		r := v.collector.Run(l.name)
		if !l.branch || r.Gate == "" || l.name == name || r.To != base.From && r.To != base.To {
			continue
		}
		if j := slices.Index(v.cols.zones, "drop:"+r.Gate); j >= 0 {
			out = append(out, rival{j, l})
		}
	}
	return out
}

// trickled returns, by channel, how otherwise the relative derivative by a rival's column is where a little air from its leg does
// one standard deviation more. It is kept.
func (v *viewer) trickled(g *gateSet, at *state, r rival) ([]float64, error) {
	s := &state{logFilter: spreadGrid * math.Round(at.logFilter/spreadGrid), globals: at.globals}
	key := fmt.Sprintf("%s;%.2f;%d;%s", g.key, s.logFilter, r.col, r.leg.name)
	if w, ok := v.spreads[key]; ok {
		return w[0], nil
	}
	a := air.Reference()
	own, err := v.derivative(g, s, a, r.col)
	if err != nil {
		return nil, err
	}
	s.globals.built.little = map[string]float64{r.leg.name: r.leg.little}
	out, err := v.derivative(g, s, a, r.col)
	if err != nil {
		return nil, err
	}
	floats.Sub(out, own)
	v.keepSpread(key, [][]float64{out})
	return out, nil
}
