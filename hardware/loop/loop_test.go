package loop

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestNE43: the currents are those that NAMUR NE 43 names, over 150 Ω; the transmitter spans −500 to 2000 Pa.
func TestNE43(t *testing.T) {
	s := Scale{Signal: Current, Burden: 150, Low: -500, High: 2000}
	rows := []struct {
		mA        float64
		want      float64
		uncertain bool
		err       error
	}{
		{0, 0, false, ErrFailedLow},
		{3.59, 0, false, ErrFailedLow},
		{3.61, 0, false, ErrUnder},
		{3.79, 0, false, ErrUnder},
		{3.81, -529.7, true, nil},
		{4.001, -499.8, false, nil},
		{8, 125, false, nil},
		{12, 750, false, nil},
		{19.999, 1999.8, false, nil},
		{20.4, 2062.5, true, nil},
		{20.6, 0, false, ErrOver},
		{20.99, 0, false, ErrOver},
		{21.01, 0, false, ErrFailedHigh},
		{23, 0, false, ErrFailedHigh},
		{math.NaN(), 0, false, ErrFailedLow},
	}
	for _, r := range rows {
		v, uncertain, err := s.Value(r.mA * 1e-3 * 150)
		assert.Equal(t, r.err, err, "%g mA", r.mA)
		assert.InDelta(t, r.want, v, 0.1, "%g mA, Pa", r.mA)
		assert.Equal(t, r.uncertain, uncertain, "%g mA", r.mA)
	}
	assert.InDelta(t, 3.6, s.Most(), 1e-9, "V")
}

// TestVoltages: 0 to 10 V behind a divider of 3, and 0 to 5 V without one.
func TestVoltages(t *testing.T) {
	ten := Scale{Signal: Volts10, Divider: 3, Low: 0, High: 2500}
	five := Scale{Signal: Volts5, Divider: 1, Low: 253.15, High: 333.15}
	rows := []struct {
		of        *Scale
		volts     float64 // at the converter
		want      float64
		uncertain bool
		err       error
	}{
		{&ten, 0, 0, false, nil},
		{&ten, 5. / 3, 1250, false, nil},
		{&ten, 10.2 / 3, 2550, true, nil},
		{&ten, -0.05 / 3, -12.5, true, nil},
		{&ten, 10.3 / 3, 0, false, ErrOver},
		{&ten, -0.2 / 3, 0, false, ErrUnder},
		{&five, 2.5, 293.15, false, nil},
		{&five, 5.2, 0, false, ErrOver},
	}
	for _, r := range rows {
		v, uncertain, err := r.of.Value(r.volts)
		assert.Equal(t, r.err, err, "%g V", r.volts)
		assert.InDelta(t, r.want, v, 1e-6, "%g V", r.volts)
		assert.Equal(t, r.uncertain, uncertain, "%g V", r.volts)
	}
	assert.InDelta(t, 3.5, ten.Most(), 1e-9)
	assert.InDelta(t, 0.5, five.Share(2.5), 1e-9)
}
