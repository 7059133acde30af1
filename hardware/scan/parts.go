package scan

import (
	"fmt"
	"time"

	"periph.io/x/conn/v3/i2c"

	"ductward/hardware/abp2"
	"ductward/hardware/adp810"
	"ductward/hardware/ads1115"
	"ductward/hardware/bme280"
	"ductward/hardware/dlh"
	"ductward/hardware/hsc"
	"ductward/hardware/sdp8xx"
)

func askSDP8xx(b i2c.Bus, address uint16, sleep func(time.Duration)) (Found, bool) {
	return askSDP(sdp8xx.Dev{Bus: b, Addr: address, Kind: sdp8xx.SDP8xx, Sleep: sleep}, "Sensirion SDP8xx")
}

func askSDP3x(b i2c.Bus, address uint16, sleep func(time.Duration)) (Found, bool) {
	return askSDP(sdp8xx.Dev{Bus: b, Addr: address, Kind: sdp8xx.SDP3x, Sleep: sleep}, "Sensirion SDP3x")
}

// askSDP lets the part tell its product number and its scale, both under checksums, and leaves it idle.
func askSDP(d sdp8xx.Dev, name string) (Found, bool) {
	if d.Start() != nil {
		return Found{}, false
	}
	defer d.Stop()
	s, err := d.Read()
	if err != nil && err != sdp8xx.ErrLow && err != sdp8xx.ErrHigh {
		return Found{}, false
	}
	return Found{Span: s.Span, About: fmt.Sprintf("%s, %.0f Pa", name, s.Span)}, true
}

// askADP810 measures once; the answer is under checksums.
func askADP810(b i2c.Bus, address uint16, sleep func(time.Duration)) (Found, bool) {
	d := adp810.Dev{Bus: b, Addr: address, Sleep: sleep}
	_, err := d.Read()
	switch err {
	case nil, sdp8xx.ErrLow, sdp8xx.ErrHigh:
		return Found{Span: adp810.Span, About: "Aosong ADP810, 500 Pa"}, true
	}
	return Found{}, false
}

// askBME280 asks the part who it is and reads its calibration.
func askBME280(b i2c.Bus, address uint16, _ func(time.Duration)) (Found, bool) {
	d := bme280.Dev{Addr: address}
	return Found{About: "Bosch BME280 or BMP280"}, d.Start(b) == nil
}

// askADS1115 converts once: it is one if its register keeps what it was asked, whatever the voltage.
func askADS1115(b i2c.Bus, address uint16, sleep func(time.Duration)) (Found, bool) {
	d := ads1115.Dev{Bus: b, Addr: address, Sleep: sleep}
	_, _, err := d.Read()
	return Found{About: "Texas Instruments ADS1115 or alike"}, err == nil || err == ads1115.ErrClipped
}

// askDLH measures once. A good status before a pressure that it can have is all that there is.
func askDLH(b i2c.Bus, address uint16, sleep func(time.Duration)) (Found, bool) {
	d := dlh.Dev{Bus: b, Addr: address, Range: dlh.Range{Span: 1}, Sleep: sleep}
	_, err := d.Read()
	switch err {
	case nil, dlh.ErrLow, dlh.ErrHigh, dlh.ErrALU:
		return Found{About: "All Sensors DLH or DLHR, as far as its answer tells"}, true
	}
	return Found{}, false
}

// askHSC looks at a few results. Its two bits of status are all that there is, so that a part that answers nothing but
// zeros or ones is not taken for one.
func askHSC(b i2c.Bus, address uint16, sleep func(time.Duration)) (Found, bool) {
	d := hsc.Dev{Bus: b, Addr: address, Range: hsc.Range{Span: 1}, Sleep: sleep}
	m, err := d.Read()
	if err != nil || m.Sum == 0 {
		return Found{}, false
	}
	return Found{About: "Honeywell HSC or SSC, as far as its answer tells"}, true
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
