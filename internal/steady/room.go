package steady

import (
	"math"
	"time"

	"ductward/internal/reading"
	"ductward/internal/shop"
)

// airHolds is for how long a reading of the room's air stands for the air: in two hours a shop warms by a kelvin or two and
// the barometer moves by a hectopascal, which is less in density than not knowing it at all (common practice, no source).
const airHolds = 2 * time.Hour

// roomAir is the last reading of one quantity of the room's air. It changes slowly and does not heed fan and gates: no transient is
// dropped from it, and where a run has no reading of its own, the last one before it stands for it.
type roomAir struct {
	known bool
	value float64
	boot  uint32
	mono  time.Duration
}

// isRoomAir tells whether a quantity is one of the room's air.
func isRoomAir(q shop.Quantity) bool {
	switch q {
	case shop.AirTemperature, shop.RelativeHumidity, shop.BarometricPressure:
		return true
	}
	return false
}

// readAir takes a reading, if it is one of the room's air.
func (f *Folder) readAir(r *reading.Reading) {
	if a, is := f.air[r.Channel]; is && !(a.known && a.boot == r.Boot && r.Mono < a.mono) {
		f.air[r.Channel] = roomAir{known: true, value: r.Value, boot: r.Boot, mono: r.Mono}
	}
}

// lastAir returns what stands for a quantity of the room's air in a run that ends at mono and has no reading of it.
func (f *Folder) lastAir(channel string, mono time.Duration) (Summary, bool) {
	a := f.air[channel]
	if !a.known || a.boot != f.boot || mono-a.mono > airHolds {
		return Summary{}, false
	}
	return Summary{Channel: channel, Mean: a.value, SE: math.NaN(), SD: math.NaN(), N: 1, ZeroAge: -1}, true
}
