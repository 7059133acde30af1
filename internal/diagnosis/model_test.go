package diagnosis

import (
	"fmt"
	"maps"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/duct"
	"ductward/internal/shop"
)

// bench is one shop with the taps that the signs speak of, and a machine at work.
type bench struct {
	name   string
	c      *shop.Collector
	works  string      // a machine whose gate is open
	beside string      // another; "": none
	other  string      // one whose gate is shut
	model  *duct.Model // of c, once it is fitted
	sound  [6]float64  // what its taps read with nothing wrong
}

// fault puts a cause into a shop that is about to be solved. Where it changes the drawing, the drawing is a copy.
type fault func(b *bench, st *duct.State)

// faults puts each cause with signs into the model. What the trade tells apart by other things than pressures may be the
// same to the model.
var faults = map[string]fault{
	loaded.Text:        filter(2),
	damp.Text:          filter(1.5),
	shortCleaning.Text: filter(1.35),
	binFull.Text:       filter(3),
	moreDust.Text:      filter(1.4),
	cleaned.Text:       filter(0.6),
	newMedia.Text:      filter(0.5),
	torn.Text:          filter(0.4),

	binLid.Text:      func(b *bench, st *duct.State) { leak(st, "inlet:"+b.c.Name) },
	seam.Text:        func(b *bench, st *duct.State) { leak(st, "run:"+b.stretch()) },
	seat.Text:        func(b *bench, st *duct.State) { leak(st, "seat:"+b.gate(b.other)) },
	gateOpen.Text:    func(b *bench, st *duct.State) { st.Setting.Open[b.gate(b.other)] = true },
	hoseOff.Text:     func(b *bench, st *duct.State) { leak(st, "open-side:"+b.works) },
	sealed.Text:      func(b *bench, st *duct.State) { leak(st, "run:"+b.stretch()) }, // read the other way round
	changedHood.Text: func(b *bench, st *duct.State) { st.Blocked = map[string]float64{b.works: 0.6} },

	plugged.Text:      func(b *bench, st *duct.State) { st.Blocked = map[string]float64{b.works: 3} },
	shutTold.Text:     func(b *bench, st *duct.State) { st.Setting.Open[b.gate(b.works)] = false },
	halfShut.Text:     func(b *bench, st *duct.State) { st.Blocked = map[string]float64{b.works: 1.8} },
	squashed.Text:     func(b *bench, st *duct.State) { st.Blocked = map[string]float64{b.works: 1.4} },
	trunkPlugged.Text: func(b *bench, st *duct.State) { st.Choked = map[string]float64{b.stretch(): 4} },
	collapsed.Text:    func(b *bench, st *duct.State) { st.Choked = map[string]float64{b.stretch(): 20} },

	slow.Text:          func(_ *bench, st *duct.State) { st.FanSpeed = 0.95 },
	slips.Text:         func(_ *bench, st *duct.State) { st.FanSpeed = 0.9 },
	caked.Text:         func(_ *bench, st *duct.State) { st.FanFactor = 0.9 },
	reversed.Text:      func(_ *bench, st *duct.State) { st.FanFactor = 0.3 }, // about half the air
	pluggedBehind.Text: discharge(20),
	noMakeUp.Text:      discharge(3), // what the room lets in lies in one loop with the ducts, where the air goes outdoors
}

func discharge(more float64) fault {
	return func(b *bench, _ *duct.State) {
		nest := *b.c.Discharge
		nest.Loss += more
		b.c.Discharge = &nest
	}
}

func filter(ratio float64) fault { return func(_ *bench, st *duct.State) { st.FilterRatio = ratio } }

func leak(st *duct.State, part string) {
	st.Leaks = append(st.Leaks, duct.Leak{Part: part, Flow: 0.02})
}

// gate is that of a machine.
func (b *bench) gate(machine string) string { return b.c.MachineGates(machine)[0] }

// trunk is what of a path lies behind its first joint.
func (b *bench) trunk(path []*shop.Run) []*shop.Run {
	return path[slices.IndexFunc(path, func(r *shop.Run) bool { return r.From.Kind == shop.EndJunction }):]
}

// onTrunk tells whether the machine at work pulls through a run of the trunk before the last one, which has the tap.
func (b *bench) onTrunk() bool { return len(b.trunk(b.c.PathOf(b.works))) > 1 }

// stretch is such a run.
func (b *bench) stretch() string {
	path := b.c.PathOf(b.works)
	return path[len(path)-2].Name
}

// The readings that signs speak of, by the names of the bench's own taps.
var taps = []*shop.Sensor{
	{Name: "suction", Measures: shop.StaticPressure, TapAt: shop.AtEnd},
	{Name: "velocity", Measures: shop.VelocityPressure, TapAt: shop.AtEnd},
	{Name: "far", Measures: shop.StaticPressure, TapAt: shop.AtStart},
	{Name: "drop", Measures: shop.FilterDrop},
}

// benches are the machines of several shops, each alone and with another, whose fans take more power the more they move.
func benches(t *testing.T) (out []bench) {
	t.Helper()
	for _, file := range []string{"../trial/shop.yaml", "../../hardware/rig/shop.yaml", "../../testdata/shops/trunk-three-drops.yaml"} {
		raw, err := os.ReadFile(file)
		require.NoError(t, err)
		s, problems := shop.Parse(file, raw)
		require.NotNil(t, s, "%v", problems)
		n := len(s.Collectors[0].Machines)
		for turn := range 2 * n { // each machine alone, and each with the next
			m, ahead := turn%n, turn/n
			again, _ := shop.Parse(file, raw) // of its own: some faults change the drawing
			c := again.Collectors[0]
			b := bench{name: fmt.Sprintf("%s, %s", file, c.Machines[m].Name), c: c, works: c.Machines[m].Name}
			if sel, _ := c.PortOf(b.works); sel != nil || len(c.MachineGates(b.works)) != 1 || !b.onTrunk() {
				continue
			}
			others := b.others(m)
			if ahead == 1 {
				b.beside, others = others[0], others[1:]
				b.name += " and " + b.beside
			}
			b.other = others[0]
			b.fit()
			b.sound = b.read(t, func(*bench, *duct.State) {})
			out = append(out, b)
		}
	}
	require.Greater(t, len(out), 10)
	return out
}

// others are the machines on gates of their own after number m.
func (b *bench) others(m int) (out []string) {
	for i := range b.c.Machines {
		other := b.c.Machines[(m+i+1)%len(b.c.Machines)].Name
		if sel, _ := b.c.PortOf(other); sel == nil && len(b.c.MachineGates(other)) == 1 && b.gate(other) != b.gate(b.works) {
			out = append(out, other)
		}
	}
	return out
}

// fit puts the taps where the signs mean them: at the trunk's end, and at its far end.
func (b *bench) fit() {
	b.c.Sensors = nil
	farthest := b.c.PathOf(b.works)
	for _, m := range b.c.Machines {
		if path := b.c.PathOf(m.Name); len(path) > len(farthest) {
			farthest = path
		}
	}
	for i := range taps {
		s := *taps[i]
		switch s.Name {
		case "suction", "velocity":
			s.Run = farthest[len(farthest)-1].Name
		case "far":
			s.Run = b.trunk(farthest)[0].Name
		}
		b.c.Sensors = append(b.c.Sensors, &s)
	}
}

// read solves the bench, with a cause in it, in the order of the fields of Signs.
func (b *bench) read(t *testing.T, put fault) (r [6]float64) {
	t.Helper()
	as := *b
	c := *b.c
	as.c = &c
	st := duct.State{Setting: shop.Setting{Open: map[string]bool{b.gate(b.works): true}}}
	if b.beside != "" {
		st.Setting.Open[b.gate(b.beside)] = true
	}
	put(&as, &st)
	if b.model == nil || c.Discharge != b.c.Discharge {
		var err error
		as.model, err = duct.New(&c)
		require.NoError(t, err)
	}
	if b.model == nil {
		b.model = as.model
	}
	res, err := as.model.Solve(st)
	require.NoError(t, err)
	by := map[string]float64{}
	for _, s := range res.Sensors {
		by[s.Channel[len(c.Name)+1:]] = s.Value
	}
	return [6]float64{-by["suction"], by["velocity"], by["drop"], -by["suction"] / by["velocity"], -by["far"], res.FanPower}
}

// Friction falls somewhat with speed, and wyes part streams otherwise at another flow: even what is told as unmoved moves
// by a few parts in a thousand (in shares of the reading). A direction is one from a tenth of that.
const (
	unmoved = 0.02
	moves   = 0.0002
)

var readings = [6]string{"suction", "velocity pressure", "filter drop", "upstream number", "far suction", "power"}

// TestTheModelShowsTheSigns puts each cause that claims signs into each shop, set of gates by set, and looks.
func TestTheModelShowsTheSigns(t *testing.T) {
	causes := map[string]Cause{}
	for _, r := range table {
		for _, c := range r.Causes {
			if c.Signs != (Signs{}) {
				causes[c.Text] = c
			}
		}
	}
	assert.ElementsMatch(t, slices.Collect(maps.Keys(causes)), slices.Collect(maps.Keys(faults)), "each cause with signs is put into the model, and no other")
	all := benches(t)
	for _, text := range slices.Sorted(maps.Keys(faults)) {
		t.Run(text, func(t *testing.T) {
			for i := range all {
				all[i].look(t, causes[text])
			}
		})
	}
}

func (b *bench) look(t *testing.T, c Cause) {
	t.Helper()
	from, to := b.sound, b.read(t, faults[c.Text])
	if c.Text == sealed.Text {
		from, to = to, from
	}
	signs := [6]Sign{c.Signs.Suction, c.Signs.Velocity, c.Signs.Filter, c.Signs.Upstream, c.Signs.Far, c.Signs.Power}
	for i, sign := range signs {
		change := to[i]/from[i] - 1
		if from[i] != from[i] { // the curve states no power
			continue
		}
		what := b.name + ": " + readings[i]
		switch sign {
		case Up:
			assert.Greater(t, change, moves, what)
		case Down:
			assert.Less(t, change, -moves, what)
		case Same:
			assert.InDelta(t, 0, change, unmoved, what)
		}
	}
}
