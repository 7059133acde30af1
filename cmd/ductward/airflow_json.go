package main

import (
	"encoding/json"
	"io"
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

	InletStatic number            `json:"inlet_static_pa"`
	Transport   number            `json:"transport_velocity_m_s"`
	Paths       []airflowPathJSON `json:"paths,omitempty"`

	Others []airflowPointJSON `json:"other_working_points"`
}

// airflowPointJSON is another state in which fan and ducts are in balance.
type airflowPointJSON struct {
	Flow   number `json:"flow_m3_s"`
	Rise   number `json:"pressure_rise_pa"`
	Stable bool   `json:"stable"`
}

type airflowFanJSON struct {
	Flow  number `json:"flow_m3_s"`
	Rise  number `json:"pressure_rise_pa"`
	Power number `json:"power_w"`
	Speed number `json:"speed_ratio"`

	Efficiency number `json:"efficiency"`
	Motor      number `json:"motor_power_w"`
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
	Short bool   `json:"short"`
}

type airflowRunJSON struct {
	Name        string `json:"name"`
	Flow        number `json:"flow_m3_s"`
	Velocity    number `json:"velocity_m_s"`
	Loss        number `json:"loss_pa"`
	StaticStart number `json:"static_start_pa"`
	StaticEnd   number `json:"static_end_pa"`

	LossShare  number `json:"loss_share"`
	WyeLoss    number `json:"wye_loss_pa"`
	Used       bool   `json:"used"`
	Transport  number `json:"transport_velocity_m_s"`
	MaySettle  bool   `json:"dust_may_settle"`
	Rating     number `json:"rating_pa"`
	OverRating bool   `json:"over_rating"`
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
	for i := range solved {
		out.Collectors = append(out.Collectors, airflowCollector(&solved[i]))
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

func airflowCollector(solved *solvedCollector) airflowCollectorJSON {
	r := solved.result
	c := airflowCollectorJSON{
		Name: solved.name, Converged: r.Converged, Iterations: r.Iterations, Worst: number(r.WorstResidual),
		Fan: airflowFanJSON{Flow: number(r.FanFlow), Rise: number(r.FanRise), Power: number(r.FanPower),
			Speed: number(r.SpeedRatio), Efficiency: number(efficiency(r)), Motor: number(solved.model.MotorPower(r.FanPower))},
		InletStatic: number(r.InletStatic), Transport: number(solved.least),
		Filter:    airflowDropJSON{number(r.FilterDrop)},
		Separator: airflowLossJSON{number(r.SeparatorLoss)},
		Machines:  []airflowHoodJSON{}, Runs: []airflowRunJSON{}, Leaks: []airflowLeakJSON{},
		Sensors: []airflowSensorJSON{}, Warnings: append([]string{}, r.Warnings...), Others: []airflowPointJSON{},
	}
	for _, p := range solved.others {
		c.Others = append(c.Others, airflowPointJSON{number(p.Result.FanFlow), number(p.Result.FanRise), p.Stable})
	}
	for _, m := range r.Machines {
		c.Machines = append(c.Machines, airflowHoodJSON{m.Name, m.Open, number(m.Flow), number(m.Needs), solved.short(m.Name)})
	}
	for i := range r.Runs {
		c.Runs = append(c.Runs, airflowRun(solved, i))
	}
	for _, p := range solved.paths {
		c.Paths = append(c.Paths, airflowPath(p))
	}
	for _, l := range r.Leaks {
		c.Leaks = append(c.Leaks, airflowLeakJSON{l.Part, number(l.Flow)})
	}
	for _, s := range r.Sensors {
		c.Sensors = append(c.Sensors, airflowSensorJSON{s.Channel, number(s.Value), s.Unit})
	}
	return c
}

func airflowRun(solved *solvedCollector, i int) airflowRunJSON {
	d, judged := &solved.result.Runs[i], &solved.runs[i]
	return airflowRunJSON{
		Name: d.Name, Flow: number(d.Flow), Velocity: number(d.Velocity), Loss: number(d.Loss),
		StaticStart: number(d.StaticStart), StaticEnd: number(d.StaticEnd),
		LossShare: number(d.Loss / solved.result.FanRise), WyeLoss: number(solved.wyes[i]),
		Used: judged.Used, Transport: number(solved.least), MaySettle: judged.Slow,
		Rating: number(judged.Rating), OverRating: !judged.Bears(),
	}
}
