package draw

import (
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/duct"
	"ductward/internal/shop"
	"ductward/internal/verdict"
)

var update = flag.Bool("update", false, "write the golden files anew")

// everyShop is each shop that the sheet must be readable for.
func everyShop(t testing.TB) map[string]*shop.Collector {
	out := fileShops(t)
	out["trunk of twenty"] = trunkOfTwenty(t, plainName)
	out["long names"] = trunkOfTwenty(t, longNames)
	out["ring"] = ring(t, 7)
	for seed := range uint64(30) {
		n := 2 + int(seed*7%19) // up to 20 machines, 59 runs
		out[fmt.Sprintf("tree %d of %d", seed, n)] = tree(t, seed, n, plainName)
	}
	out["tree of long names"] = tree(t, 99, 20, longNames)
	return out
}

// openSets are: nothing, the first machine, and every other one (of those that one hose serves, one).
func openSets(c *shop.Collector) [][]string {
	var some []string
	for i, m := range c.Machines {
		if _, err := c.SettingFor(append(some[:len(some):len(some)], m.Name)); i%2 == 0 && err == nil {
			some = append(some, m.Name)
		}
	}
	return [][]string{nil, some[:1], some}
}

func TestNoTwoTextsOfASheetOverlap(t *testing.T) {
	for name, c := range everyShop(t) {
		for _, open := range openSets(c) {
			s := solvedSheet(t, c, open, "run:"+c.Network.Runs[0].Name, "run:"+c.Network.Runs[len(c.Network.Runs)-1].Name)
			requireReadable(t, fmt.Sprintf("%s with %v open", name, open), s.lay())
		}
	}
}

// requireReadable holds a sheet against what makes it unreadable: a text over another one, over a channel, or outside
// the frame. Widths are those of the widest letters that a page may use.
func requireReadable(t *testing.T, name string, k *sheet) {
	t.Helper()
	for i, a := range k.words {
		require.True(t, a.x0 >= 0 && a.y0 >= 0 && a.x1 <= k.width && a.y1 <= k.height, "%s: %q leaves the frame", name, a.words)
		for _, b := range k.words[:i] {
			require.False(t, apart(a.box, b.box) < 0, "%s: %q and %q overlap", name, a.words, b.words)
		}
		for _, b := range k.marks {
			require.False(t, apart(a.box, b) < 0, "%s: a sign stands on %q", name, a.words)
		}
		for _, b := range k.channels {
			require.False(t, apart(a.box, b) < -1, "%s: %q stands on a channel", name, a.words)
		}
	}
}

// apart is how far two boxes are apart; negative where they overlap.
func apart(a, b box) float64 {
	return math.Max(math.Max(a.x0-b.x1, b.x0-a.x1), math.Max(a.y0-b.y1, b.y0-a.y1))
}

func TestTheCheckForOverlapsSeesThem(t *testing.T) {
	a := box{0, 0, 10, 10}
	assert.Less(t, apart(a, box{9, 9, 20, 20}), 0.0)
	assert.Less(t, apart(a, box{2, 2, 3, 3}), 0.0, "one within the other")
	assert.GreaterOrEqual(t, apart(a, box{10, 0, 20, 10}), 0.0)
	assert.GreaterOrEqual(t, apart(a, box{0, 12, 10, 20}), 0.0)
}

func TestASheetTellsEveryRunAndMachineOnce(t *testing.T) {
	for name, c := range everyShop(t) {
		if strings.Contains(name, "long names") {
			continue // these are shortened
		}
		k := solvedSheet(t, c, openSets(c)[2]).lay()
		said := map[string]int{}
		for _, w := range k.words {
			said[strings.Split(w.words, " ⌀")[0]]++
		}
		for _, r := range c.Network.Runs {
			if strings.Contains(r.Name, " ") || c.Machine(r.Name) == nil {
				assert.GreaterOrEqual(t, said[r.Name], 1, "%s: run %q", name, r.Name)
			}
		}
		for _, m := range c.Machines {
			assert.GreaterOrEqual(t, said[m.Name], 1, "%s: machine %q", name, m.Name)
		}
	}
}

func TestASheetOfAManyRunShopFitsPaper(t *testing.T) {
	// A3 and A4 have 1.414 to 1 (ISO 216). On A3 with margins, 400 mm by 277 mm, letters of 12 units must be 1.8 mm high or
	// more, which is about what a newspaper's small print has (from memory).
	for _, c := range []*shop.Collector{trunkOfTwenty(t, plainName), tree(t, 7, 14, plainName), ring(t, 7)} {
		k := solvedSheet(t, c, openSets(c)[2]).lay()
		unit := math.Min(400/k.width, 277/k.height)
		assert.Greater(t, 12*unit, 1.8, "%.0f by %.0f for %d runs", k.width, k.height, len(c.Network.Runs))
	}
}

func TestTheFiguresOfASheetAreTheModels(t *testing.T) {
	c := fileShops(t)["shop/main"]
	setting, err := c.SettingFor([]string{"bench saw"})
	require.NoError(t, err)
	m, err := duct.New(c)
	require.NoError(t, err)
	r, err := m.Solve(duct.State{Setting: setting})
	require.NoError(t, err)
	s := Solved(c, duct.State{Setting: setting}, r)
	svg := string(s.SVG())
	for _, f := range r.Runs {
		v := math.Round(f.Flow * 3600)
		if v <= 0 || f.StaticEnd > -1 {
			continue
		}
		slow := ""
		for _, x := range verdict.Of(c, r).Slow {
			if x.Run == f.Name {
				slow = ", slow"
			}
		}
		assert.Contains(t, svg, fmt.Sprintf("%.0f\u00a0m³/h · %.1f\u00a0m/s%s · −%.0f\u00a0Pa", v, f.Velocity, slow, -f.StaticEnd), f.Name)
	}
	assert.Contains(t, svg, fmt.Sprintf("%.0f\u00a0Pa", r.FilterDrop))
}

func TestSignsOfASheet(t *testing.T) {
	c := fileShops(t)["shop/main"]
	svg := string(solvedSheet(t, c, []string{"mortiser"}, "run:trunk 6", "seat:planer gate").SVG())
	for sign, n := range map[string]int{
		`"d-gate"`: 2,     // the mortiser's, and the key's
		`"d-bar"`:  7 + 3, // seven shut gates, the cap, and two of the key's
		`"d-leak"`: 2 + 1, // and the key's
	} {
		assert.Equal(t, n, strings.Count(svg, sign), sign)
	}
	assert.Contains(t, svg, "s-dust", "the mortiser alone does not move the trunk's air fast enough")
	assert.Contains(t, svg, ", slow ·", "and that is said in a word")
	assert.Contains(t, svg, ">leak ")
	assert.Contains(t, svg, ">past the gate ")
	assert.Contains(t, svg, ">capped<")
	assert.Contains(t, svg, "moulder hose shut")
	assert.NotContains(t, string(solvedSheet(t, c, []string{"mortiser"}).SVG()), "d-leak")
	svg = string(solvedSheet(t, c, []string{"tenoner"}).SVG())
	assert.Contains(t, svg, "moulder hose on tenoner")
}

func TestARingIsCutAndBothEndsTellIt(t *testing.T) {
	c := fileShops(t)["ring-main/main"]
	svg := string(solvedSheet(t, c, []string{"panel saw"}).SVG())
	assert.Contains(t, svg, ">ring, cut at A<")
	assert.Contains(t, svg, ">from far<")
	assert.Equal(t, 1, strings.Count(svg, "also leads to A"))
}

func TestLongNamesAreShortenedAndToldInFull(t *testing.T) {
	c := trunkOfTwenty(t, func(kind string, n int) string {
		return fmt.Sprintf("%s along the whole north wall no %d by the old door", kind, n)
	})
	seen := map[string]string{}
	k := solvedSheet(t, c, nil).lay()
	for _, r := range c.Network.Runs {
		short := k.shorten(r.Name)
		assert.LessOrEqual(t, len([]rune(short)), longestName)
		assert.Empty(t, seen[short], "%q stands for two names", short)
		seen[short] = r.Name
		assert.Contains(t, k.names, short+" is "+r.Name)
	}
}

func TestShortOfAirIsSaid(t *testing.T) {
	c := trunkOfTwenty(t, plainName)
	svg := string(solvedSheet(t, c, openSets(c)[2]).SVG())
	assert.Contains(t, svg, ">short: ")
}

func TestWhatIsNotKnownIsHatchedOnTheSheet(t *testing.T) {
	c := fileShops(t)["ring-main/main"]
	s := solvedSheet(t, c, []string{"panel saw"})
	assert.NotContains(t, string(s.SVG()), "url(#")
	s.Now.Runs = nil
	s.Now.Machines[0].Flow.V = math.NaN()
	svg := string(s.SVG())
	assert.Contains(t, svg, `stroke="url(#hatch-sheett)"`)
	assert.Contains(t, svg, "not known")
	s.Stale = true
	assert.Contains(t, string(s.SVG()), `fill="url(#hatch-sheett)"`)
}

func TestSheetsAreWellFormedAndRefersToNothing(t *testing.T) {
	for name, c := range everyShop(t) {
		s := solvedSheet(t, c, openSets(c)[1])
		s.Alone = true
		svg := string(s.SVG())
		d := xml.NewDecoder(strings.NewReader(svg))
		for {
			_, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			require.NoError(t, err, name)
		}
		for _, bad := range []string{"<script", "href", "@import", "<image", "url(h", "NaN", "Inf"} {
			require.NotContains(t, svg, bad, name)
		}
	}
}

func TestSheetGolden(t *testing.T) {
	c := fileShops(t)["ring-main/main"]
	s := solvedSheet(t, c, []string{"panel saw", "lathe"})
	s.Alone = true
	path := filepath.Join("testdata", "ring-main.svg")
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(path, []byte(s.SVG()), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err, "run the test with -update to write it")
	assert.Equal(t, string(want), string(s.SVG()), "%s differs: look at it, and run the test with -update if that is right", path)
}
