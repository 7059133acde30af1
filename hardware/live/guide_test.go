package live

import (
	"errors"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/hardware"
	"ductward/internal/shop"
)

// follow goes through a sensor as a person would, whose fan does what each step says.
func (b *bench) follow(channel string) (bool, []Finding) {
	b.Helper()
	var told []Finding
	fine, err := b.watch.Guide(b.Context(), channel, func(n, of int, s Step) error {
		assert.Equal(b, 3, of)
		b.rig.SetFans(s.Fan == Running)
		b.clock.Advance(time.Minute) // it takes a while to do
		return nil
	}, func(_ Seen, f Finding) { told = append(told, f) })
	require.NoError(b, err)
	require.Len(b, told, 3)
	return fine, told
}

func TestGuideOfASoundSensor(t *testing.T) {
	for _, channel := range []string{drop, static} {
		t.Run(channel, func(t *testing.T) {
			b := newBench(t, Unknown)
			fine, told := b.follow(channel)
			assert.True(t, fine, "%v", told)
			assert.Contains(t, told[0].Text, "Its zero is")
			assert.Contains(t, told[1].Text, "nothing presses")
			assert.Contains(t, told[2].Text, "The sign is right")
		})
	}
}

// TestGuideFindsExchangedTubes: in the wiring they are the other way round than in the file.
func TestGuideFindsExchangedTubes(t *testing.T) {
	b := newBench(t, Unknown)
	_, s := b.watch.shop.SensorOf(drop)
	s.From.Swapped = !s.From.Swapped // after the rig was wired
	b.reopen()
	fine, told := b.follow(drop)
	assert.False(t, fine)
	assert.Contains(t, told[2].Text, `The sign is wrong`)
	assert.Contains(t, told[2].Text, `"swapped: no"`)
}

func TestGuideOfASensorThatIsNotThere(t *testing.T) {
	b := newBench(t, Unknown)
	require.NoError(t, b.rig.Unplug(drop))
	fine, told := b.follow(drop)
	assert.False(t, fine)
	for _, f := range told {
		assert.False(t, f.Fine)
		assert.Contains(t, f.Text, string(hardware.NotAnswering))
	}
}

func TestGuideIsForPressureAlone(t *testing.T) {
	b := newBench(t, Unknown)
	for _, channel := range []string{"main/air", "main/fan", "gate/planer gate", "main/nowhere"} {
		_, err := b.watch.Guide(t.Context(), channel, nil, nil)
		assert.ErrorIs(t, err, ErrNotGuided, channel)
	}
	stop := errors.New("the person went home")
	_, err := b.watch.Guide(t.Context(), drop, func(int, int, Step) error { return stop }, nil)
	assert.ErrorIs(t, err, stop)
}

// TestWhatEachStepTells: an ABP2 of 1000 Pa, whose zero may be off by 15 Pa.
func TestWhatEachStepTells(t *testing.T) {
	at := func(mean, noise float64) Seen { return Seen{Mean: mean, Noise: noise, Samples: 20} }
	rows := []struct {
		name         string
		off, on, run Seen
		measures     shop.Quantity
		fine         [3]bool
		says         string // by the last step that is not fine
	}{
		{"sound", at(10, 1), at(11, 1), at(-900, 10), shop.StaticPressure, [3]bool{true, true, true}, ""},
		{"its zero is off", at(40, 1), at(40, 1), at(900, 10), shop.FilterDrop, [3]bool{false, true, true}, "Its zero is 40.0 Pa"},
		{"another fan pulls on the same ducts", at(0, 1), at(-30, 1), at(-900, 10), shop.StaticPressure, [3]bool{true, false, true}, "The tubes bring -30.0 Pa"},
		{"a tube is off", at(0, 1), at(0, 1), at(2, 1), shop.FilterDrop, [3]bool{true, true, false}, "The fan moves it by 2.0 Pa only"},
		{"the tubes are exchanged", at(0, 1), at(0, 1), at(900, 10), shop.StaticPressure, [3]bool{true, true, false}, "The sign is wrong"},
		{"a plugged tap", at(0, 0.01), at(0, 0.01), at(900, 0.02), shop.FilterDrop, [3]bool{true, true, false}, "look for a plugged tap"},
		{"it fell silent", at(0, 1), at(0, 1), Seen{Fault: fmt.Errorf("gone")}, shop.FilterDrop, [3]bool{true, true, false}, "gone"},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			on := &row{sensor: &shop.Sensor{Measures: r.measures}, source: &shop.Source{Kind: shop.SourceI2C, Chip: "abp2", Span: 1000}}
			seen := [3]Seen{r.off, r.on, r.run}
			for i := range seen {
				f := tell(i, &seen, on)
				assert.Equal(t, r.fine[i], f.Fine, f.Text)
				if !f.Fine {
					assert.Contains(t, f.Text, r.says)
				}
			}
		})
	}
}
