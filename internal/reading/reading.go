// Package reading defines one reading of one channel, and the CSV in which readings enter and leave.
//
// A channel is named "COLLECTOR/SENSOR" for a sensor, "gate/NAME" for a gate (1 open, 0 shut), "selector/NAME" for a
// selector (the port's number, 0 for none), "contact/NAME" for a contact (1 closed, 0 open) and "COLLECTOR/fan" for a fan
// (1 or 0). Names are those of the shop file. The four kinds of switch hold until their next reading; NaN says "not known from here on". Sensor values are SI.
package reading

import "time"

// Quality says what is known against a reading. The zero value is a good reading.
type Quality uint8

// The qualities. A faulty sensor yields no reading at all, so none of them excuses a false number.
const (
	Good      Quality = iota
	Uncertain         // believed, but not zeroed or close to an end of its range
	Simulated         // made by a rig
	Late              // arrived behind the watermark: stored, and left out of every estimate
)

// Reading is one value of one channel: a mean over the Span that ends at its time, or a single sample if Span is 0.
//
// Order is that of (Boot, Mono, Seq); Time only labels. A reading that came from a file with no boot has Boot 0 and
// Mono counted from the file's first row.
type Reading struct {
	Channel string
	Value   float64       // SI; NaN for a switch: not known from here on
	Time    time.Time     // end of the span in civil time; zero while the clock is not trusted
	Span    time.Duration // 0: a single sample
	SD      float64       // of the N samples within the span; NaN: not known
	N       int           // samples within the span; 0: not known
	Quality Quality
	Boot    uint32        // identity of the boot; 0 for readings from a file
	Mono    time.Duration // monotonic time since the boot, at the end of the span
	Seq     uint64        // rises by arrival within a boot
}
