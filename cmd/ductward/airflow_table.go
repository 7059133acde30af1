package main

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"ductward/internal/duct"
)

// secondsPerHour turns m³/s into the m³/h in which the trade speaks.
const secondsPerHour = 3600

// mostLeaks are told one by one; the rest is told as a sum.
const mostLeaks = 5

// writeAirflowTable writes the answer for a person: flows in m³/h, pressures in Pa gauge. Runs that carry no machine's
// air are told in one sentence unless all of them are wanted.
func writeAirflowTable(w io.Writer, solved []solvedCollector, all bool) error {
	for i := range solved {
		if i > 0 {
			fmt.Fprintln(w)
		}
		if err := collectorTable(w, &solved[i], all); err != nil {
			return err
		}
	}
	return nil
}

func collectorTable(w io.Writer, c *solvedCollector, all bool) error {
	r := c.result
	fmt.Fprintf(w, "collector %s\n", c.name)
	fmt.Fprint(w, paragraph(fanLine(c)))
	inlet := fmt.Sprintf("filter drop %s Pa, separator %s Pa, static pressure at the inlet %s Pa",
		cell(r.FilterDrop, 0), cell(r.SeparatorLoss, 0), cell(r.InletStatic, 0))
	if rating := c.shop.Rating; rating > 0 {
		inlet += fmt.Sprintf(" (the ducts are rated to bear %s Pa)", cell(rating, 0))
	}
	fmt.Fprint(w, paragraph(inlet))
	for _, warning := range r.Warnings {
		fmt.Fprint(w, paragraph("warning: "+warning))
	}
	for _, p := range c.others {
		fmt.Fprint(w, paragraph("warning: "+otherPoint(p)))
	}
	for _, write := range []func() error{
		func() error { return machineTable(c).write(w) },
		func() error { return runTable(w, c, all) },
		func() error { return leakTable(w, c, all) },
		func() error { return sensorTable(w, r.Sensors) },
	} {
		fmt.Fprintln(w)
		if err := write(); err != nil {
			return err
		}
	}
	return nil
}

// otherPoint tells another working point.
func otherPoint(p duct.WorkingPoint) string {
	text := fmt.Sprintf("fan and ducts are in balance at %s m³/h and %s Pa as well", cell(p.Result.FanFlow*secondsPerHour, 0), cell(p.Result.FanRise, 0))
	if p.Stable {
		return text + "; at which of the two the fan works depends on how it came there"
	}
	return text + ", where the fan does not stay"
}

// fanLine tells the fan's working point.
func fanLine(c *solvedCollector) string {
	r := c.result
	line := fmt.Sprintf("fan %s m³/h, rise %s Pa", cell(r.FanFlow*secondsPerHour, 0), cell(r.FanRise, 0))
	if r.SpeedRatio != 1 {
		line += fmt.Sprintf(", at %s of its curve's speed", percent(r.SpeedRatio))
	}
	if !math.IsNaN(r.FanPower) {
		line += fmt.Sprintf(", shaft power %s kW of which %s moves the air", cell(r.FanPower/1000, 2), percent(efficiency(r)))
	}
	if taken := c.model.MotorPower(r.FanPower); !math.IsNaN(taken) {
		line += fmt.Sprintf(", %s kW into the motor", cell(taken/1000, 2))
	}
	return line
}

// efficiency is the share of the shaft's power that the air gets; NaN where the power is not known.
func efficiency(r *duct.Result) float64 { return r.FanFlow * r.FanRise / r.FanPower }

func machineTable(c *solvedCollector) *table {
	t := &table{heads: []string{"machine", "<gate", "m³/h", "needs", "gets", "<"}}
	for _, m := range c.result.Machines {
		gate, share, verdict := "shut", "", ""
		if m.Open {
			gate, share = "open", "–"
			if m.Needs > 0 {
				share = percent(m.Flow / m.Needs)
			}
			if c.short(m.Name) {
				verdict = "short"
			}
		}
		t.add(m.Name, gate, cell(m.Flow*secondsPerHour, 0), cell(m.Needs*secondsPerHour, 0), share, verdict)
	}
	return t
}

// short tells that an open machine has too little air.
func (c *solvedCollector) short(machine string) bool {
	for _, s := range c.verdict.Short {
		if s.Machine == machine {
			return true
		}
	}
	return false
}

// runTable writes the runs in the order of the shop file, in which their owner knows them.
func runTable(w io.Writer, c *solvedCollector, all bool) error {
	all = all || !slices.ContainsFunc(c.result.Machines, func(m duct.MachineFlow) bool { return m.Open })
	t := &table{heads: []string{"run", "m³/h", "m/s", "loss Pa", "share", "wye Pa", "start Pa", "end Pa", "<"}}
	idle := 0
	highest, lowest, slow := math.Inf(-1), math.Inf(1), false
	for i, r := range c.result.Runs {
		judged := &c.runs[i]
		if !all && !judged.Used && judged.Bears() {
			idle++
			highest, lowest = max(highest, r.StaticStart, r.StaticEnd), min(lowest, r.StaticStart, r.StaticEnd)
			continue
		}
		var flags []string
		if judged.Slow {
			slow = true
			flags = append(flags, "dust")
		}
		if !judged.Bears() {
			flags = append(flags, fmt.Sprintf("over %s Pa", cell(judged.Rating, 0)))
		}
		t.add(r.Name, cell(r.Flow*secondsPerHour, 0), cell(r.Velocity, 1), cell(r.Loss, 0), percent(r.Loss/c.result.FanRise),
			wye(judged.Used, c.wyes[i]), cell(r.StaticStart, 0), cell(r.StaticEnd, 0), strings.Join(flags, ", "))
	}
	if err := t.write(w); err != nil {
		return err
	}
	fmt.Fprint(w, paragraph("share: of the fan's rise. wye: what the wye at the run's end costs beside the loss. start, end: static pressure."))
	if slow {
		fmt.Fprint(w, paragraph(dustNote(c.least)))
	}
	if idle > 0 {
		fmt.Fprint(w, paragraph(fmt.Sprintf("No machine's air goes through %s (%s to %s Pa static); --all tells each.",
			count(idle, "other run", "other runs"), cell(highest, 0), cell(lowest, 0))))
	}
	return nil
}

// wye writes the loss of a wye, and nothing where there is none or where the leg's air hardly moves.
func wye(used bool, loss float64) string {
	if loss == 0 || !used {
		return ""
	}
	return cell(loss, 0)
}

// dustNote says what the mark of a slow run means and where the velocity comes from.
func dustNote(least float64) string {
	return fmt.Sprintf("dust: slower than %.3g m/s, so that dust may settle. The velocity is transport_velocity in the shop file, or "+
		"20 m/s. %s", least, dustSource)
}

// dustSource is where velocities that carry wood dust come from.
const dustSource = "ACGIH Industrial Ventilation (2009) has 15 to 20 m/s for light shavings, 20 to 23 m/s for heavy or " +
	"wet wood; TRGS 553 asks for 20 m/s at stationary chip-making machines."

// leakTable writes what leaks in, and where most of it does.
func leakTable(w io.Writer, c *solvedCollector, all bool) error {
	leaks := slices.Clone(c.result.Leaks)
	if len(leaks) == 0 {
		_, err := fmt.Fprintln(w, "nothing leaks")
		return err
	}
	if _, err := fmt.Fprint(w, paragraph(leakageLine(c))); err != nil {
		return err
	}
	t := &table{heads: []string{"leak", "m³/h"}}
	more, rest := 0, 0.0
	if !all {
		slices.SortStableFunc(leaks, func(a, b duct.LeakFlow) int {
			return cmp.Compare(b.Flow, a.Flow)
		})
	}
	for i, l := range leaks {
		if !all && i >= mostLeaks {
			more++
			rest += l.Flow
			continue
		}
		t.add(l.Part, cell(l.Flow*secondsPerHour, 1))
	}
	if more > 0 {
		t.add(count(more, "smaller one", "smaller ones"), cell(rest*secondsPerHour, 1))
	}
	return t.write(w)
}

// leakageLine tells the leakage as a whole: what the fan moves beyond the air of the open machines.
func leakageLine(c *solvedCollector) string {
	leakage := c.result.FanFlow
	for _, m := range c.result.Machines {
		if m.Open {
			leakage -= m.Flow
		}
	}
	return fmt.Sprintf("leakage %s m³/h, %s of the fan's air", cell(leakage*secondsPerHour, 0), percent(leakage/c.result.FanFlow))
}

func sensorTable(w io.Writer, sensors []duct.SensorValue) error {
	if len(sensors) == 0 {
		_, err := fmt.Fprintln(w, "no sensor that the model knows")
		return err
	}
	t := &table{heads: []string{"sensor", "should read", "<"}}
	for _, s := range sensors {
		t.add(s.Channel, cell(s.Value, 1), s.Unit)
	}
	return t.write(w)
}

// cell writes a number with so many decimals, and a dash where it is not known.
func cell(v float64, decimals int) string {
	if math.IsNaN(v) {
		return "–"
	}
	s := fmt.Sprintf("%.*f", decimals, v)
	if zero := fmt.Sprintf("%.*f", decimals, 0.0); s == "-"+zero {
		return zero
	}
	return s
}
