package duct

import (
	"fmt"

	"ductward/internal/shop"
)

// tapKind says what a tap reads.
type tapKind int

const (
	tapStatic tapKind = iota // in a run
	tapVelocity
	tapInletStatic
	tapInletVelocity
	tapFanStatic
	tapFilter
	tapSeparator
	tapTemperature
	tapBarometer
	tapHumidity
	tapPower
	tapSpeed
)

// tap is what one sensor reads.
type tap struct {
	channel string
	unit    string
	kind    tapKind
	edge    int32   // in which it sits
	end     bool    // at that edge's end; else at its start, behind the hood and the gate
	area    float64 // m² where it sits
}

// Names of the places that are no run.
const (
	inletPlace = "inlet"
	fanPlace   = "fan"
)

// taps finds what each sensor reads. Channels that the model knows nothing of are left out.
func (b *builder) taps() error {
	for _, s := range b.c.Sensors {
		t := tap{channel: b.c.Name + "/" + s.Name, unit: "Pa"}
		known, err := b.place(&t, s)
		if err != nil {
			return fmt.Errorf("sensor %q: %w", s.Name, err)
		}
		if known {
			b.m.taps = append(b.m.taps, t)
		}
	}
	return nil
}

func (b *builder) place(t *tap, s *shop.Sensor) (known bool, err error) {
	switch s.Measures {
	case shop.StaticPressure:
		return true, b.inDuct(t, s, tapStatic, tapInletStatic, tapFanStatic)
	case shop.VelocityPressure:
		return true, b.inDuct(t, s, tapVelocity, tapInletVelocity, tapInletVelocity)
	case shop.FilterDrop:
		t.kind = tapFilter
	case shop.SeparatorDrop:
		t.kind = tapSeparator
		return b.c.Separator != nil, nil
	case shop.AirTemperature:
		t.kind, t.unit = tapTemperature, "K"
	case shop.BarometricPressure:
		t.kind = tapBarometer
	case shop.RelativeHumidity:
		t.kind, t.unit = tapHumidity, "1"
	case shop.FanPower:
		t.kind, t.unit = tapPower, "W"
		return b.m.collector.fan.knowsPower(), nil
	case shop.FanSpeed:
		t.kind, t.unit = tapSpeed, "Hz"
		return b.c.Fan.Speed > 0, nil
	default:
		return false, nil
	}
	return true, nil
}

// inDuct places a tap in a run, at the collector's inlet or at the fan's.
func (b *builder) inDuct(t *tap, s *shop.Sensor, run, inlet, fan tapKind) error {
	if s.Run == inletPlace || s.Run == fanPlace || s.Run == "" {
		t.kind, t.area = inlet, b.m.inletArea
		if s.Run == fanPlace {
			t.kind = fan
		}
		if s.Diameter > 0 {
			t.area = circle(s.Diameter)
		}
		return nil
	}
	i, ok := b.index[s.Run]
	if !ok {
		return fmt.Errorf("its tap is in run %q, which there is none of", s.Run)
	}
	parts := b.m.runs[i]
	t.kind, t.area = run, circle(parts.run.Diameter)
	t.edge, t.end = parts.second, true
	if s.TapAt == shop.AtStart {
		t.edge, t.end = parts.first, false
	}
	return nil
}
