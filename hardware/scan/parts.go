package scan

import (
	"fmt"
	"time"

	"periph.io/x/conn/v3/i2c"

	"ductward/hardware/abp2"
	"ductward/hardware/sdp8xx"
)

// askSDP8xx lets the part tell its product number and its scale, both under checksums, and leaves it idle.
func askSDP8xx(b i2c.Bus, address uint16, sleep func(time.Duration)) (Found, bool) {
	d := sdp8xx.Dev{Bus: b, Addr: address, Sleep: sleep}
	if d.Start() != nil {
		return Found{}, false
	}
	defer d.Stop()
	s, err := d.Read()
	if err != nil && err != sdp8xx.ErrLow && err != sdp8xx.ErrHigh {
		return Found{}, false
	}
	return Found{Span: s.Span, About: fmt.Sprintf("Sensirion SDP8xx, %.0f Pa", s.Span)}, true
}

// askABP2 measures once. The part has no identity: a good status before a pressure that it can have is all that there
// is. Its range is not of importance: the counts alone are looked at.
func askABP2(b i2c.Bus, address uint16, sleep func(time.Duration)) (Found, bool) {
	d := abp2.Dev{Bus: b, Addr: address, Range: abp2.Range{Span: 1}, Sleep: sleep}
	_, err := d.Read()
	switch err {
	case nil, abp2.ErrLow, abp2.ErrHigh, abp2.ErrLatched:
		return Found{About: "Honeywell ABP2, as far as its answer tells"}, true
	}
	return Found{}, false
}
