package trial

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Wilson's interval for 9 of 10 is 0.596 to 0.982, Garwood's for no event is 0 to 3.69 and for 10 is 4.80 to 18.39 (from
// memory: they stand in every table of exact Poisson limits).
func TestIntervalsAgainstPrintedOnes(t *testing.T) {
	_, low, high := wilson(9, 10)
	assert.InDelta(t, 0.596, low, 0.001)
	assert.InDelta(t, 0.982, high, 0.001)
	_, low, high = poisson(0, 1)
	assert.Zero(t, low)
	assert.InDelta(t, 3.689, high, 0.001)
	_, low, high = poisson(10, 1)
	assert.InDelta(t, 4.795, low, 0.001)
	assert.InDelta(t, 18.39, high, 0.005)
}

// Replicates that repeat one number ten times know no more than if they told it once.
func TestABootstrapDrawsWholeReplicates(t *testing.T) {
	var once, tenfold [][]float64
	for i := range 40 {
		x := float64(i % 2)
		once = append(once, []float64{x})
		tenfold = append(tenfold, []float64{x, x, x, x, x, x, x, x, x, x})
	}
	_, low, high := resampled(once, meanOf)
	_, low10, high10 := resampled(tenfold, meanOf)
	assert.InDelta(t, low, low10, 1e-12)
	assert.InDelta(t, high, high10, 1e-12)
	assert.InDelta(t, 2*z95*0.5/6.32, high-low, 0.1, "as wide as the normal law has it")
}

// Where all answers agree, and where replicates are few, no more is claimed than they can bear.
func TestFewReplicatesDecideNothing(t *testing.T) {
	e, ok := estimateOf([][]float64{{1, 1, 1}, {1, 1}}, meanOf, true)
	require.True(t, ok)
	assert.InDelta(t, 0.342, e.Low, 0.001, "as two replicates, not five answers")
	e, ok = estimateOf([][]float64{{0.1}, {0.2}, {}}, spreadOf, false)
	require.True(t, ok)
	assert.Equal(t, 2, e.Replicates)
	assert.Equal(t, "open", met(e, atMost(3)))
}

func TestEveryRowHasAScenarioAndEveryMarkARow(t *testing.T) {
	for i := range rows {
		assert.NotNil(t, scenarioOf(rows[i].scenario), "row %q", rows[i].what)
	}
	a := Ask{From: 1, To: 1, Quick: true}
	require.NoError(t, a.Check())
	assert.Len(t, a.cells(), len(marks), "each mark is of one row in one of its settings")
	assert.NotEmpty(t, marks)
}

func TestWhatIsAskedWrongly(t *testing.T) {
	for want, a := range map[string]Ask{
		`no sensor set "E": write some of A, B, C, D`:                         {Sets: []string{"E"}, From: 1, To: 1},
		`no row "place": write some of size`:                                  {Rows: []string{"place"}, From: 1, To: 1},
		"seeds 3-2: write FROM-TO, with 1 or more first and no less after it": {From: 3, To: 2},
		"nothing is left to run":                                              {Rows: []string{"growth"}, From: 1, To: 1, Quick: true},
	} {
		assert.ErrorContains(t, a.Check(), want)
	}
}

// Each sensor set has the sensors of the one before it and one more.
func TestSetsGrow(t *testing.T) {
	for i, set := range Sets {
		s, err := Shop(set, false)
		require.NoError(t, err)
		assert.Len(t, s.Collectors[0].Sensors, i+2)
		s, err = Shop(set, true)
		require.NoError(t, err)
		assert.Len(t, s.Collectors[0].Sensors, i+4)
	}
}

func TestPartsBelongToBranches(t *testing.T) {
	s, err := Shop("A", true)
	require.NoError(t, err)
	for part, want := range map[string]string{"run:trunk 3": "trunk", "drop:lathe gate": "lathe", "seat:pull saw gate": "pull saw",
		"open-side:jointer": "jointer", "run:belt sander hose": "belt sander", "other": "other", "inlet:main": "inlet:main"} {
		assert.Equal(t, want, branchOf(s.Collectors[0], part))
	}
}

// The first run of the trunk, through which one machine alone breathes, is its drop unless a tap parts them.
func TestWhatALeakIsToldAs(t *testing.T) {
	for set, want := range map[string]string{"A": "drop:panel saw gate", "C": "run:trunk 1"} {
		s, err := Shop(set, true)
		require.NoError(t, err)
		assert.Equal(t, want, toldAs(s.Collectors[0], "run:trunk 1"), set)
		assert.Equal(t, "run:trunk 2", toldAs(s.Collectors[0], "run:trunk 2"), set)
		assert.Equal(t, "seat:lathe gate", toldAs(s.Collectors[0], "seat:lathe gate"), set)
	}
}

func TestAimsAreJudgedByTheirSamplingError(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		want      string
	}{{0.91, 0.99, "yes"}, {0.8, 0.95, "open"}, {0.5, 0.8, "no"}} {
		assert.Equal(t, c.want, met(Estimate{Low: c.low, High: c.high}, atLeast(0.9)))
	}
}

// A year is lived through by as many seeds as are asked for, the shorter lives by all.
func TestYearsAreFewer(t *testing.T) {
	a := Ask{Rows: []string{"slip", "false"}, Sets: []string{"A"}, From: 1, To: 5, Years: 2}
	require.NoError(t, a.Check())
	n := map[string]int{}
	for _, plant := range a.jobs(a.cells(), nil) {
		for _, j := range plant {
			n[j.Scenario]++
		}
	}
	assert.Equal(t, map[string]int{"slip 1.5": 5, "slip 1": 5, "healthy year": 2 * 9}, n)
}

// TestTwoProgramsAddToOneFile: as where one that was interrupted still ends while the next begins.
func TestTwoProgramsAddToOneFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "results")
	one, _, err := OpenFile(path, "one")
	require.NoError(t, err)
	two, _, err := OpenFile(path, "one")
	require.NoError(t, err)
	for seed := range uint64(3) {
		require.NoError(t, one.Add(Result{Seed: 10 + seed, Metrics: Metrics{"told": {1}}}))
		require.NoError(t, two.Add(Result{Seed: 20 + seed, Metrics: Metrics{"told": {0, 1}}}))
	}
	require.NoError(t, errors.Join(one.Close(), two.Close()))
	again, done, err := OpenFile(path, "one")
	require.NoError(t, err)
	assert.Len(t, done, 6)
	require.NoError(t, again.Close())
}

// What a file of results holds is run no more; one cut short by an interrupt is run again; those of another program, and
// files of another kind, are refused.
func TestAFileOfResultsIsTakenUpAgain(t *testing.T) {
	path := filepath.Join(t.TempDir(), "results")
	a := Ask{Rows: []string{"slip"}, Sets: []string{"A"}, From: 1, To: 2}
	require.NoError(t, a.Check())
	cells := a.cells()
	f, done, err := OpenFile(path, "one")
	require.NoError(t, err)
	assert.Empty(t, done)
	first := a.jobs(cells, nil)
	require.Len(t, first, 2, "two plants")
	require.Len(t, first[0], 2, "two scenarios each: rows of one scenario share its replicates")
	for _, j := range []job{first[0][0], first[0][1], first[1][0]} {
		require.NoError(t, f.Add(Result{Setting: j.Setting, Seed: j.seed, Metrics: Metrics{"told in a day": {1}}}))
	}
	require.NoError(t, f.Close())
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, data[:len(data)-9], 0o600))

	f, done, err = OpenFile(path, "one")
	require.NoError(t, err)
	assert.Len(t, done, 2)
	assert.Equal(t, first[1:], a.jobs(cells, done))
	require.NoError(t, f.Add(Result{Setting: first[1][0].Setting, Seed: first[1][0].seed}))
	require.NoError(t, f.Close())
	_, done, err = OpenFile(path, "one")
	require.NoError(t, err)
	assert.Len(t, done, 3)

	_, _, err = OpenFile(path, "another")
	assert.ErrorContains(t, err, "do not mix")
	require.NoError(t, os.WriteFile(path, []byte("shop: x\n"), 0o600))
	_, _, err = OpenFile(path, "one")
	assert.ErrorContains(t, err, "no file of trial results")
}

// Two replicates of a plant go the whole way to lines of the table. Each is what it would be without the other, whose youth
// it shares, and an error of the keeper ends the run.
func TestTrialsRunAndAreWritten(t *testing.T) {
	a := Ask{Rows: []string{"slip"}, Sets: []string{"A"}, From: 1, To: 1}
	kept := 0
	results, err := Trials(t.Context(), a, nil, func(Result, int, int) error { kept++; return nil })
	require.NoError(t, err)
	assert.Equal(t, 2, kept)
	table, err := TableOf(a, results)
	require.NoError(t, err)
	require.Len(t, table.Lines, 3)
	for _, l := range table.Lines {
		require.NotNil(t, l.Reached, l.What)
		if l.Row == "slip" && strings.Contains(l.What, "told within") {
			require.NotNil(t, l.Bound, l.What)
			assert.Greater(t, *l.Bound, 0.99, l.What)
		}
	}
	for _, r := range results {
		alone, err := job{r.Setting, 1}.run(&youth{})
		require.NoError(t, err)
		assert.Equal(t, alone.Metrics, r.Metrics, r.Setting)
	}
	var b strings.Builder
	require.NoError(t, table.Write(&b, true))
	assert.Contains(t, b.String(), "| slip")
	assert.Contains(t, b.String(), "2 replicates")

	full := errors.New("the disk is full")
	_, err = Trials(t.Context(), a, nil, func(Result, int, int) error { return full })
	assert.ErrorIs(t, err, full)
	stopped, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = Trials(stopped, a, nil, func(Result, int, int) error { return nil })
	assert.ErrorIs(t, err, context.Canceled)
}

// TestLeaksAreDrawnAsTheyAreBelieved: every place that the watch weighs comes, each as often, and sizes from 15 m³/h on as those of a
// normal variable of 100 (its median beyond 15: 77.2, Φ⁻¹ of the mean of Φ(0.15) and 1).
func TestLeaksAreDrawnAsTheyAreBelieved(t *testing.T) {
	s, err := Shop("D", true)
	require.NoError(t, err)
	c := s.Collectors[0]
	const n = 6000
	count, below := map[string]float64{}, 0.0
	for seed := range uint64(n) {
		f := believed(c, seed)
		require.Len(t, f, 1)
		count[f[0].Name]++
		assert.GreaterOrEqual(t, f[0].Size*hour, leastBelieved)
		if f[0].Size*hour < 77.2 {
			below++
		}
	}
	places := believedPlaces(c)
	assert.Len(t, count, len(places))
	for _, p := range places {
		assert.InDelta(t, n/float64(len(places)), count[p], 4.5*math.Sqrt(n/float64(len(places))), p)
	}
	assert.InDelta(t, 0.5, below/n, 0.03)
	assert.Equal(t, "inlet:main", toldAs(c, places[0]), "what enters at the separator enters behind every tap")
}
