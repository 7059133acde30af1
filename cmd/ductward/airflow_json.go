package main

import (
	"encoding/json"
	"io"

	"ductward/internal/duct"
)

// The shapes below are a contract with other programs: keys are added, never renamed or given another meaning.

type airflowJSON struct {
	Collectors []airflowCollectorJSON `json:"collectors"`
}

type airflowCollectorJSON struct {
	Name       string              `json:"name"`
	Converged  bool                `json:"converged"`
	Iterations int                 `json:"iterations"`
	Worst      number              `json:"worst_residual_m3_s"`
	Fan        airflowFanJSON      `json:"fan"`
	Filter     airflowDropJSON     `json:"filter"`
	Separator  airflowLossJSON     `json:"separator"`
	Machines   []airflowHoodJSON   `json:"machines"`
	Runs       []airflowRunJSON    `json:"runs"`
	Leaks      []airflowLeakJSON   `json:"leaks"`
	Sensors    []airflowSensorJSON `json:"sensors"`
	Warnings   []string            `json:"warnings"`
}

type airflowFanJSON struct {
	Flow  number `json:"flow_m3_s"`
	Rise  number `json:"pressure_rise_pa"`
	Power number `json:"power_w"`
	Speed number `json:"speed_ratio"`
}

type airflowDropJSON struct {
	Drop number `json:"drop_pa"`
}

type airflowLossJSON struct {
	Loss number `json:"loss_pa"`
}

type airflowHoodJSON struct {
	Name  string `json:"name"`
	Open  bool   `json:"open"`
	Flow  number `json:"flow_m3_s"`
	Needs number `json:"needed_m3_s"`
}

type airflowRunJSON struct {
	Name        string `json:"name"`
	Flow        number `json:"flow_m3_s"`
	Velocity    number `json:"velocity_m_s"`
	Loss        number `json:"loss_pa"`
	StaticStart number `json:"static_start_pa"`
	StaticEnd   number `json:"static_end_pa"`
}

type airflowLeakJSON struct {
	Part string `json:"part"`
	Flow number `json:"flow_m3_s"`
}

type airflowSensorJSON struct {
	Channel string `json:"channel"`
	Value   number `json:"value"`
	Unit    string `json:"unit"`
}

// writeAirflowJSON writes all collectors as one object.
func writeAirflowJSON(w io.Writer, solved []solvedCollector) error {
	out := airflowJSON{Collectors: []airflowCollectorJSON{}}
	for _, s := range solved {
		out.Collectors = append(out.Collectors, airflowCollector(s.name, s.result))
	}
	return writeJSON(w, out)
}

// writeJSON writes one indented object.
func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

func airflowCollector(name string, r *duct.Result) airflowCollectorJSON {
	c := airflowCollectorJSON{
		Name: name, Converged: r.Converged, Iterations: r.Iterations, Worst: number(r.WorstResidual),
		Fan: airflowFanJSON{Flow: number(r.FanFlow), Rise: number(r.FanRise), Power: number(r.FanPower),
			Speed: number(r.SpeedRatio)},
		Filter:    airflowDropJSON{number(r.FilterDrop)},
		Separator: airflowLossJSON{number(r.SeparatorLoss)},
		Machines:  []airflowHoodJSON{}, Runs: []airflowRunJSON{}, Leaks: []airflowLeakJSON{},
		Sensors: []airflowSensorJSON{}, Warnings: append([]string{}, r.Warnings...),
	}
	for _, m := range r.Machines {
		c.Machines = append(c.Machines, airflowHoodJSON{m.Name, m.Open, number(m.Flow), number(m.Needs)})
	}
	for _, d := range r.Runs {
		c.Runs = append(c.Runs, airflowRunJSON{d.Name, number(d.Flow), number(d.Velocity), number(d.Loss),
			number(d.StaticStart), number(d.StaticEnd)})
	}
	for _, l := range r.Leaks {
		c.Leaks = append(c.Leaks, airflowLeakJSON{l.Part, number(l.Flow)})
	}
	for _, s := range r.Sensors {
		c.Sensors = append(c.Sensors, airflowSensorJSON{s.Channel, number(s.Value), s.Unit})
	}
	return c
}
