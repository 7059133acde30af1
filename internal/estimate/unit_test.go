package estimate

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"ductward/internal/detect"
	"ductward/internal/duct"
	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/shop"
	"ductward/internal/steady"
)

// TestOpenAreaAgainstOrifices: the area of a hole whose flow is known.
//
// The flows are Cd·A·√(2·Δp/ρ) of sharp-edged holes with Cd 0.61, 1.204 kg/m³, as computed for 5 mm and 10 mm at 1500 Pa
// and 25 mm at 2000 Pa. The coefficient here is ACGIH's: an orifice loses 1.78 velocity pressures on entry (Industrial
// Ventilation, 24th ed.), so 1/√(1+1.78) = 0.600, and every area comes out larger by 0.61/0.60.
func TestOpenAreaAgainstOrifices(t *testing.T) {
	assert.InDelta(t, holeDischarge, 1/math.Sqrt(1+1.78), 0.001)
	for _, c := range []struct{ diameter, suction, flow float64 }{ // mm, Pa, m³/h
		{5, 1500, 2.152}, {10, 1500, 8.609}, {25, 2000, 62.13},
	} {
		area := math.Pi / 4 * c.diameter * c.diameter * 1e-6
		assert.InEpsilon(t, area*0.61/0.60, OpenArea(c.flow/3600, c.suction, 1.204), 0.002, "%v mm", c.diameter)
	}
}

// TestALeakBetweenTwoSuctions has the uncertainty that the Guide to the Expression of Uncertainty (JCGM 100:2008, 5.1.2)
// gives for Q = C·Δp^n: its exponent alone gives n's error times the log of the suctions' ratio.
func TestALeakBetweenTwoSuctions(t *testing.T) {
	// C 0.10 m³/h to 5 %, n 0.65 ± 0.02, 1000 ± 10 Pa, uncorrelated: 8.913 m³/h to 14.71 %
	q := 0.10 * math.Pow(1000, 0.65)
	rel := math.Sqrt(0.05*0.05 + math.Pow(math.Log(1000)*0.02, 2) + math.Pow(0.65*10/1000, 2))
	assert.InDelta(t, 8.913, q, 0.001)
	assert.InDelta(t, 0.1471, rel, 0.0001)

	e := demo(t)
	at := math.Log(3200.0 / 1500) // the fan's pressure at no flow, over the reference
	assert.InEpsilon(t, math.Hypot(0.02, leakExponentError*at), e.leakScale(), 1e-12)
	e.reference = 3200
	assert.InEpsilon(t, 0.02, e.leakScale(), 1e-12, "at the fan's own suction no exponent is needed")
	e.collector.Sensors = e.collector.Sensors[:2]
	assert.InEpsilon(t, 0.04, e.flowScale(), 1e-12, "without a velocity sensor")
}

// demo returns an estimator of the demo's shop.
func demo(t *testing.T) *Estimator {
	t.Helper()
	s, problems, err := shop.Load("../../hardware/rig/shop.yaml")
	require.NoError(t, err)
	require.NoError(t, shop.Errors(problems))
	e, err := New(s, s.Collectors[0])
	require.NoError(t, err)
	return e
}

// TestIntervalOfDays: the central days of a distribution that hold the stated share.
func TestIntervalOfDays(t *testing.T) {
	for _, c := range []struct {
		name      string
		mass      map[int]float64
		low, high int
	}{
		{"one day", map[int]float64{7: 3}, 7, 7},
		{"a sharp peak", map[int]float64{3: 0.01, 4: 0.97, 5: 0.02}, 4, 4},
		{"a tail on one side", map[int]float64{3: 0.5, 4: 0.3, 9: 0.2}, 3, 9},
		{"even", map[int]float64{1: 1, 2: 1, 3: 1, 4: 1, 5: 1, 6: 1, 7: 1, 8: 1, 9: 1, 10: 1}, 1, 10},
		{"even, many", evenly(1000), 51, 950},
	} {
		total := 0.0
		for _, m := range c.mass {
			total += m
		}
		low, high := interval(c.mass, total, 0.9)
		assert.InDelta(t, c.low, low, float64(len(c.mass)/500), c.name) // rounding may move one of a thousand
		assert.InDelta(t, c.high, high, float64(len(c.mass)/500), c.name)
	}
}

func evenly(n int) map[int]float64 {
	out := map[int]float64{}
	for i := range n {
		out[i+1] = 1
	}
	return out
}

// TestPooledIsTheWeightedMean, with the scatter where there is more of it than was claimed; no value counts that has none.
func TestPooledIsTheWeightedMean(t *testing.T) {
	p := pooled([]Value{{1, 1}, {2, 0.5}})
	assert.InDelta(t, (1*1+2*4)/5.0, p.V, 1e-12)
	assert.InDelta(t, math.Sqrt(1/5.0), p.SE, 1e-12)
	assert.Equal(t, p, pooled([]Value{{1, 1}, {math.NaN(), 1}, {2, 0.5}, {9, 0}, {3, math.NaN()}}))
	// three values that scatter by ten times what they say: a variance of 100 each, a third of that for the mean
	wide := pooled([]Value{{-10, 1}, {0, 1}, {10, 1}})
	assert.InDelta(t, 10/math.Sqrt(3), wide.SE, 1e-12)
	none := pooled([]Value{{1, 0}, {math.NaN(), math.NaN()}})
	assert.True(t, math.IsNaN(none.V) && none.SE == 0)
}

// TestWhitenedEquationsHaveUnitNoise: the normal equations of whitened rows are XᵀC⁻¹X and XᵀC⁻¹y.
func TestWhitenedEquationsHaveUnitNoise(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 77))
	const rows, cols = 3, 4
	root := mat.NewDense(rows, rows+2, nil)
	x := mat.NewDense(rows, cols, nil)
	y := mat.NewVecDense(rows, nil)
	l := linear{y: make([]float64, rows), x: make([][]float64, rows)}
	for i := range rows {
		for j := range rows + 2 {
			root.Set(i, j, rng.NormFloat64())
		}
		l.y[i] = rng.NormFloat64()
		y.SetVec(i, l.y[i])
		l.x[i] = make([]float64, cols)
		for j := range cols {
			l.x[i][j] = rng.NormFloat64()
			x.Set(i, j, l.x[i][j])
		}
	}
	var cov mat.SymDense
	cov.SymOuterK(1, root)
	require.True(t, whiten(&l, &cov))
	var inv, a, want mat.Dense
	require.NoError(t, inv.Inverse(&cov))
	a.Mul(&inv, x)
	want.Mul(x.T(), &a)
	white := mat.NewDense(rows, cols, nil)
	for i := range rows {
		white.SetRow(i, l.x[i])
	}
	var got mat.Dense
	got.Mul(white.T(), white)
	assert.True(t, mat.EqualApprox(&want, &got, 1e-9))
	var wy, rhs, gotRHS mat.VecDense
	wy.MulVec(&inv, y)
	rhs.MulVec(x.T(), &wy)
	gotRHS.MulVec(white.T(), mat.NewVecDense(rows, l.y))
	assert.True(t, mat.EqualApprox(&rhs, &gotRHS, 1e-9))
	assert.False(t, whiten(&linear{y: make([]float64, 2)}, mat.NewSymDense(2, []float64{1, 2, 2, 1})), "no covariance")
}

// TestColumnsOfTheDemo: each run of the trunk, each seat, each drop, each machine's side, the inlet, each drop's loss, each
// trunk run's loss, the fan, each sensor; no two names alike but those of the run with the last tap.
func TestColumnsOfTheDemo(t *testing.T) {
	e := demo(t)
	m, err := duct.New(e.collector)
	require.NoError(t, err)
	k := newColumns(e.collector, m)
	assert.Equal(t, e.cols, k)
	names := map[string]bool{}
	for col := range k.changes {
		name := k.part(col)
		assert.Equal(t, k.isRepeat(col), names[name], name)
		names[name] = true
		assert.Equal(t, k.isLeak(col), k.kind(col) == leakChange, name)
	}
	assert.Equal(t, []string{"run:trunk 10", "inlet:main", "run:trunk 10"},
		[]string{k.zones[k.straddle[0]], k.zones[k.straddle[1]], k.zones[k.straddle[2]]}, "a leak on either side of the last tap")
	for _, want := range []string{"run:trunk 2", "run:trunk 10", "seat:moulder gate", "drop:sander gate", "open-side:edge sander",
		"inlet:main", "blockage:tenoner", "choked:trunk 7", "fan", "sensor:main/trunk static"} {
		assert.Contains(t, names, want)
	}
	assert.NotContains(t, names, "run:sander drop", "its drop's own")
	assert.NotContains(t, names, "run:trunk 1", "one machine's alone")
	assert.NotContains(t, names, "sensor:main/air", "no pressure of a duct")
	assert.Equal(t, []string{"main/filter drop", "main/trunk static", "main/trunk velocity"}, k.channels)
	for c, ch := range k.channels {
		assert.Equal(t, ch != "main/filter drop", k.isScale(k.gain0+c), "the filter's own scale is its resistance: %s", ch)
	}
	for j, z := range k.zones {
		assert.Equal(t, z == "run:moulder hose line", k.gated[j], "behind a gate: %s", z)
	}
	assert.Equal(t, -1, k.machine("kettle"))
	assert.Equal(t, "blockage:band saw", k.part(k.machine("band saw")))
}

// TestWordsOfPlaces, as they are said to people.
func TestWordsOfPlaces(t *testing.T) {
	for part, want := range map[string]string{
		"run:trunk 2":       `run "trunk 2"`,
		"seat:planer gate":  `the seat of gate "planer gate"`,
		"drop:planer gate":  `the drop above gate "planer gate"`,
		"open-side:tenoner": "tenoner's side of its gate",
		"blockage:tenoner":  "a change in the drop of tenoner",
		"sensor:main/drop":  "sensor main/drop",
		"fan":               "the fan's speed",
	} {
		assert.Equal(t, want, partWords(part))
	}
	two := finding.Place{Part: "run:a", Members: []string{"run:a", "run:b"}, Probability: 0.5}
	three := finding.Place{Part: "run:a", Members: []string{"run:a", "run:b", "run:c"}, Probability: 0.3}
	mixed := finding.Place{Part: "seat:g", Members: []string{"seat:g", "run:b", "drop:c"}, Probability: 0.2}
	other := finding.Place{Part: "other", Probability: 0.1}
	assert.Equal(t, `run "a" or run "b"`, groupWords(two))
	assert.Equal(t, "one of the runs a, b, c (they cannot be told apart)", groupWords(three))
	assert.Equal(t, `the seat of gate "g" or 2 places that look the same`, groupWords(mixed))
	assert.Equal(t, `run "a" or run "b" 50 %, one of the runs a, b, c (they cannot be told apart) 30 %`,
		placeWords([]finding.Place{two, three, other, mixed}))
	assert.Equal(t, "cannot tell", placeWords([]finding.Place{other}))
	assert.Equal(t, "the trunk and the drops", whereToLook([]finding.Place{{Part: "fan", Probability: 1}, other}))
	assert.Equal(t, `run "a" or run "b", then the seat of gate "g" or 2 places that look the same`, whereToLook([]finding.Place{two, other, mixed}))
	assert.Equal(t, `the seat of gate "h", then one of the runs a, b, c (they cannot be told apart)`,
		whereToLook([]finding.Place{three, {Part: "seat:h", Probability: 0.2}, other}), "one look before three")
	assert.Equal(t, "planer", listWords([]string{"planer"}))
	assert.Equal(t, "planer, saw and sander", listWords([]string{"planer", "saw", "sander"}))
}

// TestNumbersAreWrittenAsTheyAreKnown: the digits end where the error begins.
func TestNumbersAreWrittenAsTheyAreKnown(t *testing.T) {
	assert.Equal(t, "7.5 ± 0.4 cm²", spreadWords(7.49, 0.42, "cm²"))
	assert.Equal(t, "123 ± 14 cm²", spreadWords(123.4, 14.2, "cm²"))
	assert.Equal(t, "0.012 ± 0.002 cm²", spreadWords(0.01234, 0.0021, "cm²"))
	assert.Equal(t, "1.000 ± 0.000 cm²", spreadWords(1, 1e-9, "cm²"), "three digits are the most")
	assert.Equal(t, "81 ± 5 m3/h", flowWords(81.2/3600, 5.1/3600))
}

// TestLineAgainstGeneralisedLeastSquares, done by hand with the inverse of the whole covariance.
func TestLineAgainstGeneralisedLeastSquares(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 3))
	const walk, slope = 4e-5, 0.012
	var pts []filterPoint
	ratio, hours := 1.05, 0.0
	for range 14 {
		dh := 4 + 3*rng.Float64()
		hours += dh
		ratio += slope*dh + math.Sqrt(walk*dh)*rng.NormFloat64()
		pts = append(pts, filterPoint{hours: hours, log: Value{math.Log(ratio) + 0.005*rng.NormFloat64(), 0.005}})
	}
	n := len(pts)
	cov, x, y := mat.NewDense(n, n, nil), mat.NewDense(n, 2, nil), mat.NewVecDense(n, nil)
	for i, p := range pts {
		r := math.Exp(p.log.V)
		y.SetVec(i, r)
		x.SetRow(i, []float64{1, p.hours - hours})
		for j, o := range pts {
			cov.Set(i, j, walk*math.Min(hours-p.hours, hours-o.hours))
		}
		cov.Set(i, i, cov.At(i, i)+math.Pow(r*0.005, 2))
	}
	var inv, xi, a, post mat.Dense
	var b, mean mat.VecDense
	require.NoError(t, inv.Inverse(cov))
	xi.Mul(x.T(), &inv)
	a.Mul(&xi, x)
	b.MulVec(&xi, y)
	require.NoError(t, post.Inverse(&a))
	mean.MulVec(&post, &b)
	line, chi, ok := fitLine(pts, walk, 0, 0)
	require.True(t, ok)
	assert.InDelta(t, mean.AtVec(0), line.now.V, 1e-9)
	assert.InDelta(t, mean.AtVec(1), line.slope.V, 1e-9)
	assert.InDelta(t, math.Sqrt(post.At(0, 0)), line.now.SE, 1e-9)
	assert.InDelta(t, math.Sqrt(post.At(1, 1)), line.slope.SE, 1e-9)
	var left, w mat.VecDense
	left.MulVec(x, &mean)
	left.SubVec(y, &left)
	w.MulVec(&inv, &left)
	assert.InDelta(t, mat.Dot(&left, &w), chi, 1e-6)
	assert.InDelta(t, slope, line.slope.V, 3*line.slope.SE)

	tied, _, ok := fitLine(pts, walk, 0.02, 1e-12)
	require.True(t, ok)
	assert.InDelta(t, 0.02, tied.slope.V, 1e-5, "a sure prior decides")
	_, _, ok = fitLine(pts[:1], walk, 0, 0)
	assert.False(t, ok, "one point has no slope")
}

// TestALineNeedsTwoPoints, or one and a past cycle.
func TestALineNeedsTwoPoints(t *testing.T) {
	var e Estimator
	assert.False(t, e.line().ok)
	e.filter.points = []filterPoint{{hours: 3, log: Value{0.1, 0.005}}}
	assert.False(t, e.line().ok)
	assert.True(t, math.IsNaN(e.loading().V))
	e.filter.slopes = []float64{0.01, 0.014}
	line := e.line()
	require.True(t, line.ok)
	assert.InDelta(t, 0.012, line.slope.V, 1e-9)
	assert.InDelta(t, math.Exp(0.1), line.now.V, 1e-9)
}

// TestANewFilterOfTheWeekendIsInTheLogbook: what was done on Friday evening shows on Monday, and is no torn filter then.
func TestANewFilterOfTheWeekendIsInTheLogbook(t *testing.T) {
	friday := time.Date(2026, 3, 6, 16, 30, 0, 0, time.UTC)
	monday := friday.AddDate(0, 0, 3)
	for _, c := range []struct {
		written time.Time
		kind    finding.Kind
	}{
		{friday.Add(20 * time.Minute), finding.FilterCleaned},
		{friday.Add(40 * time.Hour), finding.FilterCleaned},
		{monday.Add(40 * time.Hour), finding.FilterCleaned},
		{friday.AddDate(0, 0, -3), finding.FilterLostResistance},
	} {
		e := demo(t)
		e.cal, e.viewer = &calibration{}, &viewer{}
		e.entries = []journal.Entry{{Time: c.written, Kind: journal.FilterReplaced}}
		e.filter.floors = []floor{{after: 1.2}}
		e.compare(filterPoint{at: friday, log: Value{0.5, 0.005}}, filterPoint{from: monday.Add(-9 * time.Hour), at: monday, log: Value{-0.1, 0.005}})
		require.Len(t, e.findings, 1)
		f := e.findings[0]
		assert.Equal(t, c.kind, f.Kind, "written %s", c.written)
		assert.Equal(t, []time.Time{friday, monday.Add(-9 * time.Hour)}, []time.Time{f.OnsetLow, f.OnsetHigh})
		if c.kind == finding.FilterCleaned {
			assert.Contains(t, f.Text, "The filter was replaced", "written %s", c.written)
		}
	}
}

// TestThresholdIsOfTheWholeFamily: the scan's share of the promised false alarms, over all questions that it asks.
func TestThresholdIsOfTheWholeFamily(t *testing.T) {
	e := demo(t)
	rate := detect.ScanRate(e.threshold(), window) * float64(e.directions()) * workingDays
	assert.InEpsilon(t, scanShare*e.collector.Alarms.FalseAlarmsPerYear, rate, 1e-6)
}

// TestADayLastsADay: a rest of four hours divides days, and where the fan never rests so long, 24 hours do; by monotonic time
// within a boot and by civil time between two, and never where nothing tells.
func TestADayLastsADay(t *testing.T) {
	morning := time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)
	run := func(boot uint32, start, end time.Duration, at time.Time) *steady.Run {
		return &steady.Run{Boot: boot, Start: start, End: end, At: at}
	}
	e := demo(t)
	e.open = &dayData{first: moment{1, time.Hour, morning}}
	e.lastBoot, e.lastEnd, e.lastAt = 1, 20*time.Hour, morning.Add(19*time.Hour)
	for _, c := range []struct {
		run  *steady.Run
		want bool
		why  string
	}{
		{run(1, 20*time.Hour, 21*time.Hour, morning), false, "at once"},
		{run(1, 23*time.Hour+59*time.Minute, 25*time.Hour, morning), false, "a rest of less than four hours"},
		{run(1, 24*time.Hour, 25*time.Hour, morning), true, "of four"},
		{run(2, 0, time.Hour, morning.Add(20*time.Hour)), false, "another boot, an hour later"},
		{run(2, 0, time.Hour, morning.Add(23*time.Hour)), true, "four hours later"},
		{run(2, 0, time.Hour, time.Time{}), false, "nobody knows when"},
	} {
		assert.Equal(t, c.want, e.isNewDay(c.run), c.why)
	}
	e.lastEnd, e.lastAt = 25*time.Hour, morning.Add(23*time.Hour+30*time.Minute)
	assert.False(t, e.isNewDay(run(1, 25*time.Hour-1, 25*time.Hour, morning)))
	assert.True(t, e.isNewDay(run(1, 25*time.Hour, 25*time.Hour+time.Minute, morning)), "24 hours without a rest")
	assert.True(t, e.isNewDay(run(2, 0, time.Minute, morning.Add(24*time.Hour))), "over two boots")
}

// TestARestrictionThatIsLessThanMattersAsksForNothing, and one that takes a fiftieth of the fan's pressure is planned for.
func TestARestrictionThatIsLessThanMattersAsksForNothing(t *testing.T) {
	e := &Estimator{}
	of := func(mean float64) finding.Priority {
		return e.priorityOf(&change{mean: mean}, finding.RestrictionAfterTap)
	}
	assert.Equal(t, finding.Journal, of(-0.005))
	assert.Equal(t, finding.Journal, of(0.02), "more pressure")
	assert.Equal(t, finding.Plan, of(-0.02))
	assert.Equal(t, finding.ActToday, of(-0.8))
}

// TestADayThatCannotBeFittedAgainSaysWhatItSaid: about a state that the model cannot bear, a day has no new information, and keeps
// the old.
func TestADayThatCannotBeFittedAgainSaysWhatItSaid(t *testing.T) {
	e := demo(t)
	e.cal = &calibration{}
	n := nuisances{parts: 1, channels: len(e.cols.channels)}
	size := e.cols.changes + n.size()
	s := &system{e: e, n: n, normal: mat.NewSymDense(size, nil), rhs: mat.NewVecDense(size, nil), strayed: make([]float64, n.channels)}
	for i := range size {
		s.normal.SetSym(i, i, math.NaN())
	}
	said := detect.NewInformation(e.cols.changes)
	d := &dayData{info: said, parts: 1}
	d.late[0] = said
	assert.False(t, s.eliminate(d, make([]float64, e.cols.changes)))
	assert.Same(t, said.Lambda, d.info.Lambda)
	assert.Same(t, said.Lambda, d.late[0].Lambda)
}
