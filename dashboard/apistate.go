package dashboard

import (
	"math"
	"time"

	"ductward/internal/estimate"
	"ductward/internal/finding"
	"ductward/internal/reading"
	"ductward/internal/watch"
)

type stateDTO struct {
	Shop             string         `json:"shop"`
	Time             time.Time      `json:"time"`
	ReferenceSuction float64        `json:"reference_suction_pa"`
	Collectors       []collectorDTO `json:"collectors"`
}

type collectorDTO struct {
	Name     string       `json:"name"`
	State    string       `json:"state"`
	Sentence string       `json:"sentence"`
	Stale    bool         `json:"stale"`          // what is told was so when the newest reading came
	Newest   *time.Time   `json:"newest_reading"` // of a sensor
	Baseline baselineDTO  `json:"baseline"`
	Now      nowDTO       `json:"now"`
	Days     []dayDTO     `json:"days"`
	Findings []findingDTO `json:"findings"`
	Sensors  []sensorDTO  `json:"sensors"`
	Lacks    []string     `json:"lacks"`
	NextTest *nextTestDTO `json:"next_test"`
	Checks   []checkDTO   `json:"checks"`
	Hunting  bool         `json:"leak_hunt"`
	Standing float64      `json:"steady_s"`
	Promise  *promiseDTO  `json:"promise"` // null: without a drawing no changes are searched for
}

type baselineDTO struct {
	From      *time.Time `json:"from"`
	To        *time.Time `json:"to"`
	Version   int        `json:"version"`
	GateSets  int        `json:"gate_sets"`
	MisfitRMS *float64   `json:"misfit_rms"`
	Complete  bool       `json:"complete"`
	Lacks     string     `json:"lacks"`
	LeftOut   int        `json:"runs_left_out"`
	baselineMoreDTO
}

type nowDTO struct {
	At       *time.Time   `json:"at"`
	FanOn    bool         `json:"fan_on"`
	Open     []string     `json:"open"`
	Sure     *float64     `json:"open_probability"` // 1 where switches or hands tell it
	Settled  bool         `json:"settled"`
	Flow     *float64     `json:"flow_m3_s"`
	FlowSD   *float64     `json:"flow_m3_s_sd"`
	Filter   *float64     `json:"filter_resistance_ratio"`
	FilterSD *float64     `json:"filter_resistance_ratio_sd"`
	Leak     *float64     `json:"new_leakage_m3_s"`
	LeakSD   *float64     `json:"new_leakage_m3_s_sd"`
	Area     *float64     `json:"open_area_m2"` // as much as would let that in
	AreaSD   *float64     `json:"open_area_m2_sd"`
	Machines []machineDTO `json:"machines"`
	Runs     []runDTO     `json:"runs"`
}

type machineDTO struct {
	Name   string   `json:"name"`
	Open   bool     `json:"open"`
	Flow   *float64 `json:"flow_m3_s"`
	FlowSD *float64 `json:"flow_m3_s_sd"`
	Needs  *float64 `json:"needed_m3_s"`
	Enough string   `json:"enough"`
}

type runDTO struct {
	Name     string   `json:"name"`
	Flow     *float64 `json:"flow_m3_s"`
	Velocity *float64 `json:"velocity_m_s"`
	Static   *float64 `json:"static_pa"` // gauge, at its end towards the fan
	Settles  bool     `json:"dust_may_settle"`
}

type dayDTO struct {
	Date         string        `json:"date"`
	FanHours     *float64      `json:"fan_hours"`
	Filter       *float64      `json:"filter_resistance_ratio"`
	FilterSD     *float64      `json:"filter_resistance_ratio_sd"`
	Leak         *float64      `json:"new_leakage_m3_s"`
	LeakSD       *float64      `json:"new_leakage_m3_s_sd"`
	Area         *float64      `json:"open_area_m2"`
	AreaSD       *float64      `json:"open_area_m2_sd"`
	Fan          *float64      `json:"fan_speed_ratio"`
	FanSD        *float64      `json:"fan_speed_ratio_sd"`
	Flow         *float64      `json:"flow_m3_s"`
	FlowSD       *float64      `json:"flow_m3_s_sd"`
	Blockage     []blockageDTO `json:"blockage"`
	Zones        []zoneDTO     `json:"zones"`
	ClosedChecks int           `json:"closed_checks"`
	Guessed      int           `json:"runs_gates_told"`
	Unsure       int           `json:"runs_gates_unsure"`
	Due          *dueDTO       `json:"cleaning_due"`
}

type blockageDTO struct {
	Machine  string   `json:"machine"`
	Factor   *float64 `json:"loss_factor"`
	FactorSD *float64 `json:"loss_factor_sd"`
}

type zoneDTO struct {
	finding.Place
	Leak   *float64 `json:"new_leakage_m3_s"`
	LeakSD *float64 `json:"new_leakage_m3_s_sd"`
	Area   *float64 `json:"open_area_m2"`
	AreaSD *float64 `json:"open_area_m2_sd"`
}

type dueDTO struct {
	Date       *time.Time `json:"date"`
	Low        *time.Time `json:"low"`
	High       *time.Time `json:"high"`
	Confidence *float64   `json:"confidence"`
	Reason     string     `json:"reason"`
	Level      *float64   `json:"at_filter_resistance_ratio"` // at which it is due
}

func newDueDTO(d *estimate.Due) dueDTO {
	out := dueDTO{Date: stamp(d.Date), Low: stamp(d.Low), High: stamp(d.High), Confidence: num(d.Confidence), Reason: d.Reason}
	if d.Ratio > 0 {
		out.Level = num(d.Ratio)
	}
	return out
}

type sensorDTO struct {
	Channel string     `json:"channel"`
	Value   *float64   `json:"value"`
	Unit    string     `json:"unit"`
	At      *time.Time `json:"at"`
	Noise   *float64   `json:"noise_sd"`
	Zero    *float64   `json:"zero"`
	ZeroAt  *time.Time `json:"zero_at"`
	Fault   string     `json:"fault"`
	Since   *time.Time `json:"since"`

	ZeroMoves []zeroMoveDTO `json:"zero_moves"`
}

// zeroMoveDTO is one move of a sensor's zero, in the sensor's unit.
type zeroMoveDTO struct {
	At *time.Time `json:"at"`
	By *float64   `json:"by"`
}

// stateDTO turns the snapshot into what other programs read.
func (s *server) stateDTO(rq *request) stateDTO {
	out := stateDTO{Shop: rq.snap.Shop, Time: rq.now.UTC(), ReferenceSuction: rq.snap.ReferenceSuction,
		Collectors: []collectorDTO{}}
	latest := s.Readings.Latest()
	for i := range rq.snap.Collectors {
		out.Collectors = append(out.Collectors, s.collectorDTO(rq, &rq.snap.Collectors[i], latest))
	}
	return out
}

func (s *server) collectorDTO(rq *request, c *watch.Collector, latest map[string]reading.Reading) collectorDTO {
	st := s.stateOf(rq, c, latest)
	b := c.Baseline
	out := collectorDTO{
		Name: c.Name, State: string(st.Word), Sentence: st.Sentence, Stale: st.Stale, Newest: stamp(st.At),
		Baseline: baselineDTO{stamp(b.From), stamp(b.To), b.Version, b.GateSets, num(b.MisfitRMS), b.Complete, b.Lacks, b.LeftOut, newBaselineMore(&b)},
		Promise:  newPromiseDTO(c),
		Now:      newNowDTO(&c.Now, rq.snap.ReferenceSuction), Days: []dayDTO{}, Findings: []findingDTO{}, Sensors: []sensorDTO{}, Lacks: list(c.Lacks),
		NextTest: newNextTestDTO(c.NextTest), Checks: newCheckDTOs(c.Checks), Hunting: c.Hunting, Standing: c.Standing.Seconds(),
	}
	for i := range c.Days {
		out.Days = append(out.Days, newDayDTO(&c.Days[i], rq.snap.ReferenceSuction))
	}
	for i := range c.Findings {
		out.Findings = append(out.Findings, newFindingDTO(&c.Findings[i]))
	}
	for _, x := range c.Sensors {
		unit, _ := s.channelUnit(x.Channel)
		x = s.heard(rq, c, x, latest)
		d := sensorDTO{x.Channel, num(x.Value), unit, stamp(x.At), num(x.Noise), num(x.Zero), stamp(x.ZeroAt), x.Fault, stamp(x.Since), []zeroMoveDTO{}}
		for _, f := range zeroMoves(c, x.Channel) {
			d.ZeroMoves = append(d.ZeroMoves, zeroMoveDTO{stamp(f.Raised), num(f.Size)})
		}
		out.Sensors = append(out.Sensors, d)
	}
	return out
}

func newNowDTO(n *estimate.Now, suction float64) nowDTO {
	out := nowDTO{At: stamp(n.At), FanOn: n.FanOn, Open: list(n.Open), Sure: num(n.Sure), Settled: n.Settled,
		Flow: num(n.Flow.V), FlowSD: num(n.Flow.SE), Filter: num(n.Filter.V), FilterSD: num(n.Filter.SE),
		Leak: num(n.Leakage.V), LeakSD: num(n.Leakage.SE), Machines: []machineDTO{}, Runs: []runDTO{}}
	out.Area, out.AreaSD = areaDTO(n.Leakage, suction)
	for _, m := range n.Machines {
		out.Machines = append(out.Machines, machineDTO{m.Machine, m.Open, num(m.Flow.V), num(m.Flow.SE), num(m.Needs), enoughWord(n.FanOn, m)})
	}
	for _, r := range n.Runs {
		out.Runs = append(out.Runs, runDTO{r.Run, num(r.Flow), num(r.Velocity), num(r.Static), r.Settles})
	}
	return out
}

func newDayDTO(d *estimate.Day, suction float64) dayDTO {
	out := dayDTO{Date: d.Date, FanHours: num(d.FanHours), Filter: num(d.FilterRatio.V), FilterSD: num(d.FilterRatio.SE),
		Leak: num(d.Leakage.V), LeakSD: num(d.Leakage.SE), Fan: num(d.FanRatio.V), FanSD: num(d.FanRatio.SE),
		Flow: num(d.Flow.V), FlowSD: num(d.Flow.SE), Blockage: []blockageDTO{}, Zones: []zoneDTO{},
		ClosedChecks: d.ClosedChecks, Guessed: d.Guessed, Unsure: d.Unsure}
	out.Area, out.AreaSD = areaDTO(d.Leakage, suction)
	for _, b := range d.Blockage {
		out.Blockage = append(out.Blockage, blockageDTO{b.Machine, num(b.Factor.V), num(b.Factor.SE)})
	}
	for _, z := range d.Zones {
		p := z.Place
		if math.IsNaN(p.Probability) {
			p.Probability = 0
		}
		zone := zoneDTO{Place: p, Leak: num(z.Leakage.V), LeakSD: num(z.Leakage.SE)}
		zone.Area, zone.AreaSD = areaDTO(z.Leakage, suction)
		out.Zones = append(out.Zones, zone)
	}
	if d.Due != nil {
		due := newDueDTO(d.Due)
		out.Due = &due
	}
	return out
}
