package rig

import (
	"errors"
	"math"
	"time"

	"ductward/internal/shop"
)

// bme280 is a simulated Bosch BME280 with the register map of its datasheet, BST-BME280-DS002, section 5. Its calibration is
// that of the example in the BMP280's, section 3.12; the humidity's is an ordinary one, from memory. Raw values are found by
// bisection on the datasheet's formulas in floating point (section 8.1), so that the driver, which uses those in integers,
// is held against another form of them.
type bme280 struct {
	addr   uint16
	feels  map[shop.Quantity]*bmeFelt
	faults faults

	pointer  byte
	humidity byte // ctrl_hum as written; it holds from the next measurement on
	ready    time.Duration
	data     [8]byte
}

// bmeFelt is one of the things that it measures, as one channel of the shop.
type bmeFelt struct {
	part  *bme280
	value func(now time.Duration) float64
}

const bmeConversion = 8 * time.Millisecond

var (
	bmeT = [3]float64{27504, 26435, -1000}
	bmeP = [9]float64{36477, -10685, 3024, 2855, 140, -7, 15500, -14600, 6000}
	bmeH = [6]float64{75, 365, 0, 313, 50, 30}
)

func newBME280(address uint16) *bme280 {
	return &bme280{addr: address, feels: map[shop.Quantity]*bmeFelt{}, data: [8]byte{0x80, 0, 0, 0x80, 0, 0, 0x80, 0}}
}

func (d *bme280) address() uint16 { return d.addr }

func (d *bme280) restart(now time.Duration) { d.ready = now }

// write takes pairs of a register and its value, or a register alone.
func (d *bme280) write(now time.Duration, _ bool, w []byte) error {
	if d.faults.unplugged {
		return errNACK
	}
	if len(w) == 1 {
		d.pointer = w[0]
		return nil
	}
	for i := 0; i+1 < len(w); i += 2 {
		switch w[i] {
		case 0xF2:
			d.humidity = w[i+1]
		case 0xF4:
			if w[i+1]&3 == 1 || w[i+1]&3 == 2 {
				d.ready = now + bmeConversion
				d.measure(now)
			}
		}
	}
	return nil
}

func (d *bme280) read(now time.Duration, instant bool, r []byte) error {
	if d.faults.unplugged {
		return errNACK
	}
	for i := range r {
		r[i] = d.register(d.pointer+byte(i), !instant && now < d.ready)
	}
	return nil
}

// register is what stands in one register.
func (d *bme280) register(at byte, busy bool) byte {
	switch {
	case at == 0xD0:
		return 0x60
	case at == 0xF3 && busy:
		return 0x08
	case at >= 0xF7 && at < 0xFF:
		return d.data[at-0xF7]
	case at >= 0x88 && at < 0xA2:
		return bmeLow()[at-0x88]
	case at >= 0xE1 && at < 0xE8:
		return bmeHigh()[at-0xE1]
	}
	return 0
}

// bmeLow and bmeHigh are the calibration registers 0x88 to 0xA1 and 0xE1 to 0xE7.
func bmeLow() (b [26]byte) {
	for i, v := range append(append([]float64{}, bmeT[:]...), bmeP[:]...) {
		b[2*i], b[2*i+1] = byte(int(v)), byte(int(v)>>8)
	}
	b[25] = byte(bmeH[0])
	return b
}

func bmeHigh() [7]byte {
	h4, h5 := int(bmeH[3]), int(bmeH[4])
	return [7]byte{byte(int(bmeH[1])), byte(int(bmeH[1]) >> 8), byte(bmeH[2]), byte(h4 >> 4), byte(h4&0xF | h5&0xF<<4), byte(h5 >> 4), byte(bmeH[5])}
}

// measure finds the raw values that the part's feelings stand for.
func (d *bme280) measure(now time.Duration) {
	if d.faults.stuck {
		return
	}
	c, pa, rh := d.felt(now, shop.AirTemperature)-273.15, d.felt(now, shop.BarometricPressure), 100*d.felt(now, shop.RelativeHumidity)
	t := bisect(1<<20, func(raw float64) bool { return bmeFine(raw)/5120 < c })
	fine := bmeFine(t)
	p := bisect(1<<20, func(raw float64) bool { return bmePressure(raw, fine) > pa })
	h := 32768.0
	if d.humidity&7 != 0 {
		h = bisect(1<<16, func(raw float64) bool { return bmeHumidity(raw, fine) < rh })
	}
	for i, v := range []int{int(p) << 4, int(t) << 4} {
		d.data[3*i], d.data[3*i+1], d.data[3*i+2] = byte(v>>16), byte(v>>8), byte(v)
	}
	d.data[6], d.data[7] = byte(int(h)>>8), byte(int(h))
}

// felt is what it feels of one kind, and an ordinary room where the shop does not ask.
func (d *bme280) felt(now time.Duration, q shop.Quantity) float64 {
	if f := d.feels[q]; f != nil {
		return f.value(now)
	}
	return map[shop.Quantity]float64{shop.AirTemperature: 293.15, shop.BarometricPressure: 101325, shop.RelativeHumidity: 0.5}[q]
}

// bisect finds where below stops to hold, from 0 to most.
func bisect(most float64, below func(float64) bool) float64 {
	low, high := 0.0, most
	for high-low > 1 {
		if mid := math.Floor((low + high) / 2); below(mid) {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

// bmeFine is t_fine of section 8.1; 5120 of it are a degree.
func bmeFine(raw float64) float64 {
	a := (raw/16384 - bmeT[0]/1024) * bmeT[1]
	b := raw/131072 - bmeT[0]/8192
	return a + b*b*bmeT[2]
}

func bmePressure(raw, fine float64) float64 {
	a := fine/2 - 64000
	b := a * a * bmeP[5] / 32768
	b = (b+a*bmeP[4]*2)/4 + bmeP[3]*65536
	a = (1 + (bmeP[2]*a*a/524288+bmeP[1]*a)/524288/32768) * bmeP[0]
	p := (1048576 - raw - b/4096) * 6250 / a
	return p + (bmeP[8]*p*p/2147483648+p*bmeP[7]/32768+bmeP[6])/16
}

func bmeHumidity(raw, fine float64) float64 {
	a := fine - 76800
	h := (raw - (bmeH[3]*64 + bmeH[4]/16384*a)) * (bmeH[1] / 65536 * (1 + bmeH[5]/67108864*a*(1+bmeH[2]/67108864*a)))
	return h * (1 - bmeH[0]*h/524288)
}

// fail and mend: its channels share its fate.
func (d *bme280) fail(f fault) error {
	if f != unplug && f != stick {
		return errors.New("a BME280 can only be unplugged or stick")
	}
	return d.faults.set(f)
}

// mend makes it whole; a part that comes back from being unplugged has forgotten its settings.
func (d *bme280) mend() {
	if d.faults.unplugged {
		d.humidity = 0
	}
	d.faults = faults{}
}

func (f *bmeFelt) fail(x fault) error { return f.part.fail(x) }
func (f *bmeFelt) mend()              { f.part.mend() }
