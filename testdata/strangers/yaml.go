package main

import (
	"fmt"
	"math"
	"strings"
)

// fitted is how many of these pressure sensors are in each set.
var fitted = map[string]int{"A": 2, "B": 3, "C": 4, "D": 5}

var pressures = []string{"filter drop", "trunk static", "trunk velocity", "far static", "middle static"}

// What an owner may leave out of the shop file.
const (
	lessDrawing = "drawing" // the ducts
	lessGates   = "gates"   // these, the gates and the machines
)

// file writes the shop as its owner would draw it, or as much of it as they do.
func (p *plant) file(set string, barometer bool, less string) string {
	var b strings.Builder
	w := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	w("shop: A shop drawn at random\nsite: {altitude: 60 m, temperature: 18 degC, humidity: 50 %%, time_zone: Europe/London}")
	w("collectors:\n  - collector: main\n    fan:\n      position: after filter\n      density: 1.2 kg/m3\n      speed: 2900 rpm\n      between: smooth\n      curve:")
	for i := range 9 {
		q := p.most * float64(i) / 8.2
		w("        - {flow: %.0f m3/h, pressure: %.0f Pa}", 3600*q, fanCurve(q, p.shutOff, p.most, 2.6))
	}
	w("    separator: {name: box, loss: {drop: %.1f Pa, flow: 2400 m3/h}}", p.separator*sq(2400.0/3600))
	w("    filter:\n      area: 24 m2\n      clean: {drop: %.1f Pa, flow: 2400 m3/h}\n      housing: %.1f Pa\n      limit: {drop: %.0f Pa, flow: 2400 m3/h}",
		p.media*2400/3600+p.housingDrawn*sq(2400.0/3600), p.housingDrawn*sq(2400.0/3600), 2.3*p.media*2400/3600)
	w("    discharge: {diameter: 250 mm, length: 2 m, material: galvanised, loss: 1.0}\n    rating: 4 kPa\n    transport_velocity: 15 m/s")
	if less != lessGates {
		p.machineFile(w)
	}
	if less == "" {
		p.ductFile(w)
	}
	p.sensorFile(w, set, barometer, less != "")
	w("    fan_running: {mqtt: shop/fan, stale: 10 min}\n    alarms: {reference_suction: 1500 Pa, false_alarms_per_year: 1, filter_notice: 10 days, leak_to_tell: 3 m3/h}")
	w("outbound:\n  mqtt:\n    broker: tcp://127.0.0.1:1883")
	return b.String()
}

func (p *plant) machineFile(w func(string, ...any)) {
	w("    machines:")
	for i, m := range p.machines {
		w("      - {machine: %s, needs: %.0f m3/h}", m, 3600*p.needs[i])
	}
	w("    gates:")
	for i, m := range p.machines {
		w("      - {gate: %s gate, seat_leak: 3 m3/h, position: {mqtt: shop/gate/%d, stale: 10 min}}", m, i+1)
	}
}

func (p *plant) ductFile(w func(string, ...any)) {
	w("    ducts:\n      material: galvanised spiral\n      tightness: C\n      runs:")
	for _, l := range p.limbs {
		p.run(w, l)
	}
	w("      junctions:")
	for _, y := range p.wyesDrawn {
		w("        - {junction: %s, kind: wye, angle: %.0f deg, straight: %s, branch: %s}", y.name, y.angle*180/math.Pi, y.straight.name, y.branch.name)
	}
}

// sensorFile writes the sensors; where nothing is drawn, of those in the ducts the ones at the collector with the diameter there.
func (p *plant) sensorFile(w func(string, ...any), set string, barometer, undrawn bool) {
	w("    sensors:")
	for i, name := range pressures[:fitted[set]] {
		at := []string{"", p.trunk.name, p.trunk.name, p.far.name, p.middle.name}[i]
		measures := []string{"filter drop", "static pressure", "velocity pressure", "static pressure", "static pressure"}[i]
		switch {
		case undrawn && i > 2:
			continue
		case undrawn && i > 0:
			measures += fmt.Sprintf(", at: inlet, diameter: %.0f mm", 1000*p.trunk.diameter)
		case at != "":
			measures += ", at: " + at + ", tap: end"
		}
		w("      - {sensor: %s, measures: %s, from: {mqtt: shop/%d, unit: Pa}}", name, measures, i)
	}
	w("      - {sensor: air, measures: air temperature, from: {mqtt: shop/air, unit: degC}, interval: 60 s}")
	if barometer {
		w("      - {sensor: barometer, measures: barometric pressure, from: {mqtt: shop/barometer, unit: Pa}, interval: 60 s}")
	}
}

// run writes a limb's runs.
func (p *plant) run(w func(string, ...any), l *limb) {
	if l.hose > 0 {
		m := p.machines[l.machine]
		w("        - run: %s hose\n          from: %s\n          to: %s\n          diameter: %.0f mm\n          length: %.2f m\n          material: flexible hose\n          tightness: B\n          fittings:", m, m, l.name, 1000*l.diameter, l.hose)
		w("            - {measured: {drop: %.0f Pa, flow: %.0f m3/h}, what: hood}", l.hood*sq(p.needs[l.machine]), 3600*p.needs[l.machine])
	}
	to := "collector"
	for _, y := range p.wyesDrawn {
		if y.straight == l || y.branch == l {
			to = y.name
		}
	}
	wide := 0.0
	for _, x := range p.limbs {
		if x.after == l {
			to, wide = x.name, x.diameter
		}
	}
	w("        - run: %s", l.name)
	if l.from != nil {
		w("          from: %s", l.from.name)
	}
	w("          to: %s\n          diameter: %.0f mm\n          length: %.2f m", to, 1000*l.diameter, l.length)
	if l.hose > 0 {
		w("          tightness: B\n          gate: %s gate", p.machines[l.machine])
	}
	if l.bends > 0 || wide > 0 {
		w("          fittings:")
	}
	if l.bends > 0 {
		w("            - {elbow: 90 deg, make: gored, radius: 1.5, pieces: 5, times: %d}", l.bends)
	}
	if wide > l.diameter {
		w("            - {expansion: {to: %.0f mm, angle: 20 deg}}", 1000*wide)
	}
}

func sq(x float64) float64 { return x * x }
