// Package loop turns the signal of an industrial transmitter, 4 to 20 mA or a voltage, into what it measures.
//
// A current loop tells its own faults. NAMUR NE 43, "Standardisation of the Signal Level for the Failure Information of
// Digital Transmitters", as makers and handbooks print it: 3.8 to 20.5 mA is a measured value; below 3.6 and above 21 mA
// the transmitter or the wire has failed; between them the value has run against an end of its range. The current is seen
// as the voltage over a burden: 150 Ω turns 21 mA into 3.15 V, which a converter on 3.3 V still sees; the transmitter's
// supply must leave it its own minimum on top of that.
//
// A voltage cannot tell a broken wire from a pressure of nothing: 0 V is both. Prefer the current.
package loop

// Signal is the kind of signal.
type Signal int

// The signals.
const (
	Current Signal = iota // 4 to 20 mA
	Volts10               // 0 to 10 V
	Volts5                // 0 to 5 V
)

// The limits of NAMUR NE 43, in A.
const (
	failedLow  = 3.6e-3
	validLow   = 3.8e-3
	validHigh  = 20.5e-3
	failedHigh = 21e-3
)

// Those of a voltage, as shares of its span. Common practice, no source: transmitters hold their zero to a per cent and
// stop a little above their end.
const (
	shareLow  = -0.01
	shareHigh = 1.025
)

// Error is a reason why there is no value.
type Error string

// Error returns the reason.
func (e Error) Error() string { return string(e) }

// The reasons.
const (
	ErrFailedLow  Error = "below 3.6 mA: the wire is broken, the supply is missing, or the transmitter reports a fault"
	ErrFailedHigh Error = "above 21 mA: the wires touch, or the transmitter reports a fault"
	ErrUnder      Error = "below the range of the transmitter"
	ErrOver       Error = "above the range of the transmitter"
)

// Scale is how a transmitter is set and wired.
type Scale struct {
	Signal    Signal
	Burden    float64 // Ω that the current flows through
	Divider   float64 // the signal's voltage over that at the converter
	Low, High float64 // what is measured at the ends of the signal, SI
}

// Most returns the largest voltage at the converter that has a meaning.
func (s *Scale) Most() float64 {
	if s.Signal == Current {
		return 24e-3 * s.Burden // somewhat more than a failed transmitter sends, so that it is not clipped
	}
	return s.end() * 1.05 / s.Divider
}

// signal returns the signal itself, in A or V, of a voltage at the converter.
func (s *Scale) signal(volts float64) float64 {
	if s.Signal == Current {
		return volts / s.Burden
	}
	return volts * s.Divider
}

func (s *Scale) end() float64 {
	if s.Signal == Volts5 {
		return 5
	}
	return 10
}

// Share returns where a voltage at the converter lies between the ends of the signal, 0 to 1.
func (s *Scale) Share(volts float64) float64 {
	if s.Signal == Current {
		return (s.signal(volts) - 4e-3) / 16e-3
	}
	return s.signal(volts) / s.end()
}

// Value returns what is measured. uncertain says that it lies past an end of the range, where it still counts.
func (s *Scale) Value(volts float64) (value float64, uncertain bool, err error) {
	if err := s.check(volts); err != nil {
		return 0, false, err
	}
	share := s.Share(volts)
	return s.Low + share*(s.High-s.Low), share < 0 || share > 1, nil
}

// check tells whether a voltage at the converter is a measured value.
func (s *Scale) check(volts float64) error {
	if s.Signal == Current {
		return checkCurrent(s.signal(volts))
	}
	switch share := s.Share(volts); {
	case share < shareLow:
		return ErrUnder
	case share > shareHigh:
		return ErrOver
	}
	return nil
}

func checkCurrent(amperes float64) error {
	switch {
	case !(amperes >= failedLow): // NaN too
		return ErrFailedLow
	case amperes > failedHigh:
		return ErrFailedHigh
	case amperes < validLow:
		return ErrUnder
	case amperes > validHigh:
		return ErrOver
	}
	return nil
}
