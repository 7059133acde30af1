package main

import (
	"fmt"
	"io"
	"math"
	"text/tabwriter"

	"ductward/internal/duct"
)

// secondsPerHour turns m³/s into the m³/h in which the trade speaks.
const secondsPerHour = 3600

// writeAirflowTable writes the answer for a person: flows in m³/h, pressures in Pa gauge.
func writeAirflowTable(w io.Writer, solved []solvedCollector) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	for i, s := range solved {
		if i > 0 {
			fmt.Fprintln(t)
		}
		collectorTable(t, s.name, s.result)
	}
	return t.Flush()
}

func collectorTable(t *tabwriter.Writer, name string, r *duct.Result) {
	fmt.Fprintf(t, "collector %s\n", name)
	fmt.Fprintf(t, "fan %s m³/h, rise %s Pa", cell(r.FanFlow*secondsPerHour, 0), cell(r.FanRise, 0))
	if !math.IsNaN(r.FanPower) {
		fmt.Fprintf(t, ", shaft power %s kW", cell(r.FanPower/1000, 2))
	}
	fmt.Fprintf(t, "; filter drop %s Pa; separator %s Pa\n", cell(r.FilterDrop, 0), cell(r.SeparatorLoss, 0))
	for _, warning := range r.Warnings {
		fmt.Fprintf(t, "warning: %s\n", warning)
	}
	machineTable(t, r.Machines)
	runTable(t, r.Runs)
	leakTable(t, r.Leaks)
	sensorTable(t, r.Sensors)
}

func machineTable(t *tabwriter.Writer, machines []duct.MachineFlow) {
	fmt.Fprintln(t, "\nmachine\tgate\tflow m³/h\tneeds m³/h\t\t")
	for _, m := range machines {
		gate, verdict := "shut", ""
		if m.Open {
			gate = "open"
		}
		if m.Open && m.Flow < m.Needs {
			verdict = "short"
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t\n", m.Name, gate, cell(m.Flow*secondsPerHour, 0), cell(m.Needs*secondsPerHour, 0),
			verdict)
	}
}

func runTable(t *tabwriter.Writer, runs []duct.RunFlow) {
	fmt.Fprintln(t, "\nrun\tflow m³/h\tvelocity m/s\tloss Pa\tstatic at start Pa\tstatic at end Pa\t")
	for _, r := range runs {
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%s\t\n", r.Name, cell(r.Flow*secondsPerHour, 0), cell(r.Velocity, 1), cell(r.Loss, 0),
			cell(r.StaticStart, 0), cell(r.StaticEnd, 0))
	}
}

func leakTable(t *tabwriter.Writer, leaks []duct.LeakFlow) {
	if len(leaks) == 0 {
		return
	}
	fmt.Fprintln(t, "\nleak\tflow m³/h\t")
	for _, l := range leaks {
		fmt.Fprintf(t, "%s\t%s\t\n", l.Part, cell(l.Flow*secondsPerHour, 1))
	}
}

func sensorTable(t *tabwriter.Writer, sensors []duct.SensorValue) {
	if len(sensors) == 0 {
		return
	}
	fmt.Fprintln(t, "\nsensor\tshould read\t\t")
	for _, s := range sensors {
		fmt.Fprintf(t, "%s\t%s\t%s\t\n", s.Channel, cell(s.Value, 1), s.Unit)
	}
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
