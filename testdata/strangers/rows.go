package main

import (
	"fmt"
	"math"
	"time"
)

func (d *workday) stamp(at time.Duration) string {
	return d.date.Add(at).UTC().Format("2006-01-02T15:04:05.000Z")
}

// gateRow tells of a gate's move, at the time that whoever noted it took it to be. One that is stuck says what it should be.
func (d *workday) gateRow(at time.Duration, machine int, open bool) {
	if at > 7*time.Hour {
		if open {
			d.unnoted[machine] = d.r.Float64() < d.forget
		}
		if d.unnoted[machine] || !open && d.r.Float64() < d.linger {
			d.hidden += bit(open)
			d.stay += bit(!d.unnoted[machine])
			return
		}
		at = max(at+seconds(d.sloppy*d.r.NormFloat64()), d.noted[machine]+time.Second)
	}
	d.noted[machine] = at
	if d.less == lessGates {
		return
	}
	fmt.Fprintf(d.out, "%s,gate/%s gate,%d,,0,,\n", d.stamp(at), d.machines[machine], bit(open))
}

func (d *workday) fanRow(at time.Duration, on bool) {
	fmt.Fprintf(d.out, "%s,main/fan,%d,,0,,\n", d.stamp(at), bit(on))
}

func bit(on bool) int {
	if on {
		return 1
	}
	return 0
}

const (
	samples  = 60
	together = 8.0 // s, over which turbulence is one and the same: twice its correlation time
)

// write writes a minute's row of every sensor.
func (d *workday) write(m *minute, at time.Duration) {
	s, hour := newSensing(), at.Hours()
	c := &condition{block: make([]float64, len(d.machines)), choke: map[*limb]float64{}}
	restore := d.leaks()
	for i := range d.faults {
		d.faults[i].put(d.plant, c, s, d.day, hour)
	}
	restore()
	for i, name := range pressures[:fitted[d.set]] {
		mean, noise := m.sum[i]/m.seconds, m.noise[i]/m.seconds
		spread := math.Max(m.square[i]/m.seconds-mean*mean, 0)
		if lag := s.plug[name]; lag > 0 {
			k := math.Exp(-1 / lag)
			mean = k*d.lagged[name] + (1-k)*mean
			spread, noise = 0, 0.01
		}
		if s.off[name] {
			mean, spread, noise = 0, 0, 0.04
		}
		d.lagged[name] = mean
		gain := d.gain[name] * (1 + d.dayError[name].value)
		if g, ok := s.gain[name]; ok {
			gain *= g
		}
		v := gain*mean + d.zero[name] + s.zero[name] + math.Sqrt(noise*together/samples)*d.r.NormFloat64()
		d.row(name, v, math.Sqrt(noise+spread*gain*gain), at, s)
	}
	celsius, pascal, _ := d.weather.at(d.day, hour)
	if at%(10*time.Minute) == 0 {
		d.airRow("air", celsius+0.2*d.r.NormFloat64(), "degC", at, s)
		if d.barometer {
			d.airRow("barometer", pascal+20*d.r.NormFloat64(), "Pa", at, s)
		}
	}
}

func (d *workday) row(name string, v, sd float64, at time.Duration, s *sensing) {
	if s.silent[name] || d.r.Float64() < d.missing {
		return
	}
	end := ",,"
	if d.sd {
		end = fmt.Sprintf(",%.3f,%d", sd, samples)
	}
	fmt.Fprintf(d.out, "%s,main/%s,%.3f,Pa,60%s\n", d.stamp(at), name, v, end)
}

func (d *workday) airRow(name string, v float64, unit string, at time.Duration, s *sensing) {
	if !s.silent[name] {
		fmt.Fprintf(d.out, "%s,main/%s,%.2f,%s,0,,\n", d.stamp(at), name, v, unit)
	}
}
