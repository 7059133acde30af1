package accord

import (
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/air"
	"ductward/internal/plant"
	"ductward/internal/shop"
)

const (
	drop     = "main/filter drop"
	static   = "main/trunk static"
	velocity = "main/trunk velocity"
)

// bench is the demonstration's collector with one gate open, and what a plant of it reads then.
func bench(t *testing.T, filter float64) (*shop.Collector, shop.Setting, air.State, map[string]float64) {
	t.Helper()
	text, err := os.ReadFile("../../hardware/rig/shop.yaml")
	require.NoError(t, err)
	s, problems := shop.Parse("shop.yaml", text)
	require.NoError(t, shop.Errors(problems))
	c := s.Collectors[0]
	setting, err := c.SettingFor([]string{"band saw"})
	require.NoError(t, err)
	state, err := air.At(s.Site.Temperature, air.PressureAt(s.Site.Altitude), s.Site.Humidity)
	require.NoError(t, err)

	const seed = 3
	t.Logf("seed %d", seed)
	p, err := plant.New(c, s.Site, plant.DefaultOptions(seed))
	require.NoError(t, err)
	require.NoError(t, p.SetGate("band saw gate", true))
	p.SetFilterRatio(filter)
	p.SetFan(true)
	read := map[string]float64{}
	for _, n := range []string{drop, static, velocity} {
		tap := p.Tap(n)
		tap.Sample(60) // the fan has come up to speed
		sum := 0.0
		for range 200 {
			sum += tap.Sample(5)
		}
		read[n] = sum / 200
	}
	return c, setting, state, read
}

// TestASoundShopFits: a plant on other laws than the model's, with as-built errors, is no mistake of the file; and the
// filter's load is found from its drop.
func TestASoundShopFits(t *testing.T) {
	for _, filter := range []float64{0.8, 1, 2.5} {
		c, setting, state, read := bench(t, filter)
		a, err := Of(c, setting, state, read)
		require.NoError(t, err)
		assert.True(t, a.Fine(), "%+v", a)
		assert.Empty(t, a.Exchanged[0])
		assert.InEpsilon(t, filter, a.Filter, 0.35, "as good as a drawing is")
		assert.Len(t, a.Rows, 3)
	}
}

// TestExchangedSensorsAreNamed: the filter's part is at the trunk's tap, and the trunk's across the filter.
func TestExchangedSensorsAreNamed(t *testing.T) {
	c, setting, state, read := bench(t, 1)
	read[drop], read[static] = -read[static], -read[drop]
	a, err := Of(c, setting, state, read)
	require.NoError(t, err)
	assert.False(t, a.Fine())
	assert.Equal(t, [2]string{drop, static}, a.Exchanged)
}

// TestARangeThatIsWrongByADecimal: 250 Pa in the file where the part spans 2.5 kPa.
func TestARangeThatIsWrongByADecimal(t *testing.T) {
	c, setting, state, read := bench(t, 1)
	read[static] /= 10
	a, err := Of(c, setting, state, read)
	require.NoError(t, err)
	assert.False(t, a.Fine())
	for _, r := range a.Rows {
		assert.Equal(t, r.Channel != static, r.Fits, r.Channel)
	}
}

func TestAFilterThatIsNone(t *testing.T) {
	c, setting, state, read := bench(t, 1)
	read[drop] *= 20
	a, err := Of(c, setting, state, read)
	require.NoError(t, err)
	assert.False(t, a.FilterFits)
	assert.InDelta(t, mostFilter, a.Filter, 1e-9)
}

func TestWhatIsNotComparedFits(t *testing.T) {
	c, setting, state, read := bench(t, 1)
	delete(read, drop)
	read[velocity] = math.NaN()
	a, err := Of(c, setting, state, read)
	require.NoError(t, err)
	assert.True(t, a.Fine())
	assert.True(t, math.IsNaN(a.Filter))
	assert.Len(t, a.Rows, 1)

	c.Network = nil
	_, err = Of(c, setting, state, read)
	assert.ErrorContains(t, err, "no drawing")
}
