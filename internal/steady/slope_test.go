package steady

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSlopeOnNorris takes the ozone data of NIST's StRD, data set Norris (linear regression, 36 points): x for seconds
// and y for pascals. The certified slope is 1.00211681802045.
func TestSlopeOnNorris(t *testing.T) {
	file, err := os.Open("testdata/norris.csv")
	require.NoError(t, err)
	defer func() { assert.NoError(t, file.Close()) }()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 37)
	var blocks []block
	var w []float64
	for _, r := range rows[1:] {
		x, err := strconv.ParseFloat(r[0], 64)
		require.NoError(t, err)
		y, err := strconv.ParseFloat(r[1], 64)
		require.NoError(t, err)
		blocks = append(blocks, block{mid: time.Duration(x*1e9 + 0.5), mean: y})
		w = append(w, 1)
	}
	assert.InEpsilon(t, 1.00211681802045, slope(blocks, w), 1e-12)
	assert.Zero(t, slope(blocks[:2], w[:2]), "two blocks tell no slope")
}

// TestARunTellsItsSlope: a filter that loads by 20 Pa an hour.
func TestARunTellsItsSlope(t *testing.T) {
	b := newBench(t, twoGates())
	b.noise = 0
	b.shut()
	for i := range 1800 {
		b.sample(time.Second, -2000, 300+20*float64(i)/3600)
	}
	b.put("main/fan", 0)
	assert.InEpsilon(t, 20.0/3600, of(t, b.one(), "main/filter").Slope, 0.001, "Pa/s")
	assert.InDelta(t, 0, of(t, b.runs[0], "main/trunk").Slope, 1e-12)
}

func TestMedian(t *testing.T) {
	assert.Equal(t, 3.0, median([]float64{5, 3, 1}))
	assert.Equal(t, 2.5, median([]float64{4, 1, 2, 3}))
}
