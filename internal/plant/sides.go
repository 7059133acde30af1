package plant

import "ductward/internal/shop"

// ShutSide shuts a sensor's high side (1) or low side (-1) off from the air, or none (0): what stands in it just now stays
// there, whatever the air does. With the fan at rest that is the room's pressure, as of a tube that has come off.
func (p *Plant) ShutSide(channel string, side int) {
	t := p.tapAt[channel]
	if t == nil || !t.pressure || p.Err() != nil {
		return
	}
	high := p.state.high[t.i]
	t.shut, t.held = 0, 0
	p.dirty = true
	if side == 0 {
		return
	}
	t.shut, t.held = side, high
	if side < 0 {
		t.held = high - p.state.mean[t.i]
	}
}

// oneSided returns what a sensor reads of a difference, the pressure at its high side being known, with one side shut off.
func (t *Tap) oneSided(mean, high float64) float64 {
	switch {
	case t.shut > 0:
		return t.held - (high - mean)
	case t.shut < 0:
		return high - t.held
	}
	return mean
}

// highSide returns the gauge pressure at a sensor's high side in Pa: before the filter or the separator, at the nose of a pitot
// tube. A static tap has the room on its low side.
func (p *Plant) highSide(t *Tap) float64 {
	s, n := p.solver, p.net
	switch t.sensor.Measures {
	case shop.FilterDrop:
		return s.pressure(s.pr, n.segments[n.filter].from)
	case shop.SeparatorDrop:
		if n.sep >= 0 {
			return s.pressure(s.pr, n.segments[n.sep].from)
		}
	case shop.StaticPressure:
		mean, _ := p.staticAt(t)
		return mean
	case shop.VelocityPressure:
		static := p.inletStatic()
		if t.run >= 0 {
			static = p.static(t.run, t.sensor.TapAt)
		}
		mean, _ := p.tapMean(t)
		return static + mean
	}
	return 0
}
