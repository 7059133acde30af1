package draw

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/shop"
)

func end(k shop.EndKind, name string) shop.End { return shop.End{Kind: k, Name: name} }

// trunkShop has n machines that join one trunk in turn; machine 0 stands at its far end.
func trunkShop(n int) *shop.Collector {
	c := &shop.Collector{Name: "c", Network: &shop.Network{}, Separator: &shop.Separator{}}
	for i := range n {
		m := fmt.Sprintf("m%d", i)
		c.Machines = append(c.Machines, &shop.Machine{Name: m, Needs: 0.2})
		c.Network.Runs = append(c.Network.Runs, &shop.Run{Name: "drop " + m, From: end(shop.EndMachine, m), To: end(shop.EndJunction, fmt.Sprintf("j%d", max(i, 1))), Gate: "gate " + m})
	}
	for i := 1; i < n; i++ {
		to := end(shop.EndJunction, fmt.Sprintf("j%d", i+1))
		straight := fmt.Sprintf("t%d", i-1)
		if i == 1 {
			straight = "drop m0"
		}
		if i == n-1 {
			to = end(shop.EndCollector, "")
		}
		c.Network.Runs = append(c.Network.Runs, &shop.Run{Name: fmt.Sprintf("t%d", i), From: end(shop.EndJunction, fmt.Sprintf("j%d", i)), To: to})
		c.Network.Junctions = append(c.Network.Junctions, &shop.Junction{Name: fmt.Sprintf("j%d", i), Kind: shop.Wye, Straight: straight})
	}
	return c
}

// picture opens the machines named, each with its share of its need.
func picture(c *shop.Collector, share float64, open ...string) *Picture {
	nan := math.NaN()
	p := &Picture{Collector: c, ID: "t", Title: "air", Filter: Filter{Now: nan, Low: nan, High: nan, Due: nan, Emptied: nan}}
	p.Now.FanOn = true
	for _, m := range c.Machines {
		air := estimate.MachineAir{Machine: m.Name, Needs: m.Needs, Flow: estimate.Value{V: 0.001, SE: 0.001}}
		for _, o := range open {
			if o == m.Name {
				air.Open, air.Flow = true, estimate.Value{V: m.Needs * share, SE: 0.01}
				p.Now.Open = append(p.Now.Open, "gate "+m.Name)
			}
		}
		p.Now.Machines = append(p.Now.Machines, air)
	}
	return p
}

// laid returns the tree with every place settled.
func laid(p *Picture, shape Shape) (*limb, *canvas) {
	root := grow(p.Collector)
	p.measure(root)
	k := &canvas{Shape: shape, p: p, scale: shape.trunk / p.largest(root)}
	k.arrange(root)
	return root, k
}

// leaves lists the far ends from top to foot.
func leaves(l *limb) []*limb {
	if l.leaf != nil {
		return []*limb{l}
	}
	var out []*limb
	for _, kid := range l.stack {
		out = append(out, leaves(kid)...)
	}
	return out
}

func TestEveryMachineIsDrawnOnceAndNoRowsOverlap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 24).Draw(t, "machines")
		var open []string
		for i := range n {
			if rapid.Bool().Draw(t, "open") {
				open = append(open, fmt.Sprintf("m%d", i))
			}
		}
		for _, shape := range []Shape{Wide, Narrow} {
			root, k := laid(picture(trunkShop(n), 0.9, open...), shape)
			rows := leaves(root)
			require.Len(t, rows, n)
			for i := 1; i < n; i++ {
				a, b := rows[i-1], rows[i]
				require.Less(t, a.y0+a.width/2, b.y0-b.width/2, "%s over %s", a.leaf.name, b.leaf.name)
			}
			for _, l := range rows {
				require.Greater(t, l.y0-l.width/2, 0.0)
				require.Less(t, l.y0+l.width/2, k.height)
				require.Greater(t, l.x1, l.x0+10, "a drop has a length")
			}
		}
	})
}

func TestWidthIsFlow(t *testing.T) {
	root, k := laid(picture(trunkShop(4), 0.5, "m1", "m2"), Wide)
	for _, l := range leaves(root) {
		if !l.open {
			assert.InDelta(t, thin, l.width, 1e-9, "a shut drop is a line")
			continue
		}
		assert.InDelta(t, 0.2*k.scale, l.width, 1e-9, "as wide as what its machine needs")
		assert.InDelta(t, 0.1*k.scale, l.fill, 1e-9, "filled as far as what it gets")
	}
	assert.InDelta(t, 0.4*k.scale, root.width, 1e-9, "the trunk is the sum of the open ones")
	assert.InDelta(t, (0.2+0.002)*k.scale, root.fill, 1e-9)
}

func TestMoreAirThanNeededWidensTheChannelAndMarksTheNeed(t *testing.T) {
	p := picture(trunkShop(3), 1.5, "m1")
	root, k := laid(p, Wide)
	for _, l := range leaves(root) {
		if l.open {
			assert.InDelta(t, 0.3*k.scale, l.width, 1e-9)
		}
	}
	assert.Contains(t, string(p.SVG(Wide)), "d-need")
}

func TestSpineKeepsItsWidth(t *testing.T) {
	s := newSpine(0, 0, 300, 120, 110)
	for i := range s.at {
		assert.InDelta(t, 1, math.Hypot(s.normal[i].x, s.normal[i].y), 1e-9)
	}
	first, last := s.at[0], s.at[len(s.at)-1]
	assert.Equal(t, point{0, 0}, first)
	assert.InDelta(t, 300+seam, last.x, 1e-9)
	assert.InDelta(t, 120, last.y, 1e-9)
	assert.InDelta(t, 1, s.normal[len(s.normal)-1].y, 1e-9, "arrives level")
}

func TestSignsOfTheDrawing(t *testing.T) {
	p := picture(trunkShop(4), 0.6, "m1", "m2")
	p.Now.Runs = []estimate.RunAir{{Run: "t1", Flow: 0.13, Velocity: 8, Settles: true}}
	p.Leaks = []estimate.Zone{{Place: finding.Place{Part: "run:t2", Probability: 0.7}, Leakage: estimate.Value{V: 0.004}},
		{Place: finding.Place{Part: "none", Probability: 0.2}}, {Place: finding.Place{Part: "run:t1", Probability: 0.01}, Leakage: estimate.Value{V: 0.004}}}
	p.Filter = Filter{Now: 1.4, Low: 1.3, High: 1.5, Due: 1.8, Emptied: 1.1, Words: "filter 140 %\nclean soon"}
	p.Figure = func(m estimate.MachineAir) (string, bool) { return "432 of <720>", m.Machine == "m1" }
	svg := string(p.SVG(Wide))
	for sign, n := range map[string]int{`"d-bar"`: 2, `"d-gate"`: 2, `"d-leak"`: 1, `"d-dust"`: 1, `"d-due"`: 1, `"d-emptied"`: 1, `"d-notch"`: 1} {
		assert.Equal(t, n, strings.Count(svg, sign), sign)
	}
	assert.Contains(t, svg, "short of air")
	assert.Contains(t, svg, "70\u00a0%")
	assert.Contains(t, svg, "432 of &lt;720&gt;")
	assert.Contains(t, svg, ">clean soon<")
	assert.NotContains(t, svg, "url(#", "nothing is hatched where all is known")
}

// What leaks at the collector's inlet is drawn at the near end of the last run, and chips in a run are no leak.
func TestALeakAtTheInletIsDrawnAtTheLastRun(t *testing.T) {
	barbs := func(part string) int {
		p := picture(trunkShop(4), 1, "m1")
		p.Leaks = []estimate.Zone{{Place: finding.Place{Part: part, Probability: 0.9}, Leakage: estimate.Value{V: 0.004}}}
		return strings.Count(string(p.SVG(Wide)), `class="d-leak"`)
	}
	assert.Equal(t, 1, barbs("inlet:main"))
	assert.Zero(t, barbs("choked:t1"))
}

func TestUnknownIsHatched(t *testing.T) {
	p := picture(trunkShop(3), 1, "m1")
	p.Now.Machines[1].Flow = estimate.Value{V: math.NaN(), SE: math.NaN()}
	p.Filter.Now = math.NaN()
	assert.GreaterOrEqual(t, strings.Count(string(p.SVG(Wide)), "url(#hatch-widet)"), 2, "the drop and the filter")
	p.Stale = true
	assert.Contains(t, string(p.SVG(Narrow)), `<rect width="360"`)
}

func TestFanOffLeavesChannelsEmpty(t *testing.T) {
	p := picture(trunkShop(3), 1, "m1")
	p.Now.FanOn = false
	root, _ := laid(p, Wide)
	assert.Zero(t, root.fill)
	assert.NotContains(t, string(p.SVG(Wide)), "d-runs")
}

func TestRingIsCutOpenOnce(t *testing.T) {
	// Two ways lead from junction a, where the saw joins, to junction b at the collector.
	c := &shop.Collector{Machines: []*shop.Machine{{Name: "saw", Needs: 0.2}}, Network: &shop.Network{Runs: []*shop.Run{
		{Name: "drop", From: end(shop.EndMachine, "saw"), To: end(shop.EndJunction, "a")},
		{Name: "north", From: end(shop.EndJunction, "a"), To: end(shop.EndJunction, "b")},
		{Name: "south", From: end(shop.EndJunction, "a"), To: end(shop.EndJunction, "b")},
		{Name: "main", From: end(shop.EndJunction, "b"), To: end(shop.EndCollector, "")}}}}
	var kinds []leafKind
	for _, l := range leaves(mustOrder(t, c)) {
		kinds = append(kinds, l.leaf.kind)
	}
	assert.ElementsMatch(t, []leafKind{machineLeaf, ringLeaf}, kinds)
}

// mustOrder lays a collector out and returns its tree.
func mustOrder(t *testing.T, c *shop.Collector) *limb {
	t.Helper()
	root, _ := laid(picture(c, 1), Wide)
	return root
}

func TestHosePortsAndStubs(t *testing.T) {
	c := &shop.Collector{Machines: []*shop.Machine{{Name: "router", Needs: 0.2}, {Name: "drill", Needs: 0.1}},
		Selectors: []*shop.Selector{{Name: "bench hose", Hose: true, Ports: []string{"router", "drill"}}},
		Network: &shop.Network{Runs: []*shop.Run{
			{Name: "hose", From: end(shop.EndSelector, "bench hose"), To: end(shop.EndJunction, "j")},
			{Name: "cap", From: end(shop.EndStub, "for a lathe"), To: end(shop.EndJunction, "j")},
			{Name: "main", From: end(shop.EndJunction, "j"), To: end(shop.EndCollector, "")}}}}
	var names []string
	for _, l := range leaves(mustOrder(t, c)) {
		names = append(names, leafName(l.leaf))
	}
	assert.ElementsMatch(t, []string{"router", "drill", "for a lathe (capped)"}, names)
	assert.Contains(t, string(picture(c, 1, "router").SVG(Wide)), "d-away", "the port that the hose is not on")
}

func TestNoDrawingAndNoMachines(t *testing.T) {
	c := trunkShop(3)
	c.Network = nil
	assert.Len(t, leaves(mustOrder(t, c)), 3)
	p := picture(&shop.Collector{}, 1)
	p.Now.Flow = estimate.Value{V: 0.5}
	root, _ := laid(p, Wide)
	assert.Equal(t, bareLeaf, root.leaf.kind)
	assert.Greater(t, root.fill, 20.0, "all that the fan draws")
}

func TestFanBeforeTheFilterStandsBeforeIt(t *testing.T) {
	p := picture(trunkShop(3), 1)
	k := &canvas{Shape: Wide, p: p}
	_, comb, fan := k.stations()
	assert.Greater(t, fan.x, comb.x)
	p.Collector.Fan.Position = shop.FanBeforeFilter
	_, comb, fan = k.stations()
	assert.Less(t, fan.x, comb.x)
}

func TestWordsOfTheNarrowPictureStandBelowEveryChannel(t *testing.T) {
	p := picture(trunkShop(9), 1.1, "m1", "m8")
	p.Filter.Words, p.Flow = "filter 120 % of baseline\nclean in 6 to 11 days", "2420 m³/h"
	root, k := laid(p, Narrow)
	k.draw(root)
	lowest := 0.0
	for _, l := range leaves(root) {
		lowest = math.Max(lowest, l.y0+l.width/2)
	}
	for _, words := range []string{"2420 m³/h", "filter 120 % of baseline", "clean in 6 to 11 days"} {
		at := regexp.MustCompile(`y="([0-9.]+)" font-size="([0-9.]+)"[^>]*>` + words + `<`).FindStringSubmatch(k.letters.String())
		require.NotNil(t, at, words)
		y, err := strconv.ParseFloat(at[1], 64)
		require.NoError(t, err)
		size, err := strconv.ParseFloat(at[2], 64)
		require.NoError(t, err)
		assert.Greater(t, y-size, lowest, words)
		assert.Less(t, y+0.25*size, k.height, words)
	}
}

func TestPictureIsWellFormed(t *testing.T) {
	for _, shape := range []Shape{Wide, Narrow} {
		d := xml.NewDecoder(strings.NewReader(string(picture(trunkShop(9), 0.7, "m1", "m5").SVG(shape))))
		for {
			_, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			require.NoError(t, err)
		}
	}
}

// TestNoNameIsCut: a long name is set smaller, and what a machine lacks goes below it where both have no room.
func TestNoNameIsCut(t *testing.T) {
	s := trunkShop(2)
	long := "wide belt sander of the second bay"
	for _, m := range s.Machines {
		if m.Name == "m1" {
			m.Name = long
		}
	}
	for _, r := range s.Network.Runs {
		if r.From.Name == "m1" {
			r.From.Name = long
		}
	}
	p := picture(s, 0.6, long, "m0")
	p.Figure = func(m estimate.MachineAir) (string, bool) { return "1 190 of 1 450 m³/h", true }
	for _, shape := range []Shape{Wide, Narrow} {
		svg := string(p.SVG(shape))
		room := shape.left - 20
		if shape.namesAbove {
			room = shape.right - shape.left
		}
		words := regexp.MustCompile(`<text x="[0-9.]+" y="[0-9.]+" font-size="([0-9]+)" text-anchor="[a-z]+" class="d-(?:open|figure)[^>]*>([^<]+)<`).FindAllStringSubmatch(svg, -1)
		require.GreaterOrEqual(t, len(words), 3, shape.name)
		for _, w := range words {
			size, err := strconv.ParseFloat(w[1], 64)
			require.NoError(t, err)
			assert.LessOrEqual(t, wide(w[2], size), room, "%s: %s", shape.name, w[2])
		}
		assert.Equal(t, 2, strings.Count(svg, short), shape.name)
	}
}
