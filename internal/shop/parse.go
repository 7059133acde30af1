package shop

import (
	"fmt"
	"io"
	"math"
	"os"
	"time"
	_ "time/tzdata" // boards come without the zones' rules; labels must be the same everywhere
)

// Load reads a shop file. The error is of reading the file alone; what is wrong in the file is in the problems, all of
// it, by line. The shop is nil when any problem is not a warning.
func Load(path string) (*Shop, []Problem, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, nil, fmt.Errorf("shop file: %w", err)
	}
	defer f.Close() // read only: nothing is lost by a failed close
	data, err := io.ReadAll(io.LimitReader(f, maxBytes+1))
	if err != nil {
		return nil, nil, fmt.Errorf("shop file: %w", err)
	}
	s, problems := Parse(path, data)
	return s, problems, nil
}

// Parse reads a shop from the text of its file. name is used in messages. All problems are found in one pass and come
// by line; the shop is nil when any of them is not a warning.
func Parse(name string, data []byte) (*Shop, []Problem) {
	r := &reader{file: name}
	s := r.shop(r.tree(data))
	if r.failed() {
		return nil, r.sorted()
	}
	s.Raw = append([]byte(nil), data...)
	s.Path = name
	return s, r.sorted()
}

// shop reads the whole file.
func (r *reader) shop(root *value) *Shop {
	if root == nil {
		return nil
	}
	o := r.object(root, "shop file", "")
	s := &Shop{Name: o.name("shop", "name of the workshop")}
	s.Site = r.site(o.get("site"))
	g := newNames()
	for _, v := range o.entries("collectors") {
		s.Collectors = append(s.Collectors, r.collector(v, g))
	}
	if len(s.Collectors) == 0 {
		o.require("collectors", `a list with at least one entry "- collector: NAME"`)
		if v := o.get("collectors"); v != nil && v.shape == list {
			o.wrong(v, "collectors is empty", `write at least one entry "- collector: NAME"`)
		}
	}
	s.Outbound = r.outbound(o.get("outbound"))
	s.Prices = r.prices(o.get("prices"))
	s.Checks = r.checks(o)
	s.Buses = r.buses(o)
	o.close()
	r.wiring(s)
	return s
}

// names are the registers that reach over the whole file. Gates, selectors and contacts name channels of their own without the
// collector in front, so that they are unique in the file; the rest is unique in its collector.
type names struct{ collectors, gates, selectors, contacts *register }

func newNames() *names { return &names{newRegister(), newRegister(), newRegister(), newRegister()} }

// site reads where the shop stands.
func (r *reader) site(v *value) Site {
	s := Site{Temperature: 293.15, Humidity: 0.5, Location: time.UTC, Units: Metric}
	if v == nil {
		return s
	}
	o := r.object(v, "site", "")
	s.Altitude = o.quantity("altitude", altitude, 0)
	s.Temperature = o.quantity("temperature", roomAir, s.Temperature)
	s.Humidity = o.quantity("humidity", humidity, s.Humidity)
	if zone := o.word("time_zone"); zone != "" {
		if l, err := location(zone); err == nil {
			s.Location = l
		} else {
			o.wrong(o.get("time_zone"), fmt.Sprintf("time_zone %s is not known", shown(zone)), `write a zone such as "Europe/Berlin" or "America/Chicago"`)
		}
	}
	systems := []string{Metric, InchPound}
	if i := o.oneOf("units", systems); i >= 0 {
		s.Units = systems[i]
	}
	o.close()
	return s
}

// location finds a zone by its name. "Local" is refused: the file would mean something else on another machine.
func location(zone string) (*time.Location, error) {
	if zone == "Local" {
		return nil, fmt.Errorf("zone %q depends on the machine", zone)
	}
	return time.LoadLocation(zone)
}

// collector reads one collector.
func (r *reader) collector(v *value, g *names) *Collector {
	o := r.object(v, "collector", "collector")
	c := &Collector{Name: o.name("collector", "main"), Was: o.was(), Line: v.line}
	if c.Name != "" {
		g.collectors.add(o, o.get("collector"), "collector", c.Name, c.Was)
	}
	p := &parts{Collector: c, object: o, names: g, ends: newRegister(), sensors: newRegister(),
		meant: map[string]bool{}, runs: map[*Run]*object{}, joints: map[*Junction]*object{}, ports: map[*Selector]*object{}, sensorAt: map[*Sensor]*object{}}
	c.Fan = p.fan()
	c.Separator = p.separator()
	c.Filter = p.filter()
	c.Discharge = p.discharge()
	c.Rating = o.quantity("rating", somePressure, math.NaN())
	c.Transport = o.quantity("transport_velocity", transport, 20)
	p.machines()
	p.gates()
	p.selectors()
	p.ducts()
	p.readSensors()
	p.contacts()
	c.FanSwitch = p.fanSwitch()
	c.Alarms = p.alarms()
	o.close()
	p.check()
	return c
}

// parts reads and checks one collector.
type parts struct {
	*Collector
	*object
	names   *names
	ends    *register // machines, runs, junctions, selectors and stubs: what a run can begin or end at
	sensors *register
	curve   *value          // the fan's curve, nil if it has none
	clean   bool            // the filter's clean drop is given
	drawing *value          // nil: no ducts were given
	broken  bool            // a part has no usable name: what refers to it cannot be judged
	meant   map[string]bool // names that were probably meant where an unknown one stands

	// Where each part stands in the file.
	runs     map[*Run]*object
	joints   map[*Junction]*object
	ports    map[*Selector]*object
	sensorAt map[*Sensor]*object
}

// alarms reads the owner's choices about what is told.
func (p *parts) alarms() AlarmSettings {
	s := AlarmSettings{ReferenceSuction: 1500, FalseAlarmsPerYear: 1, FilterNotice: 10 * 24 * time.Hour}
	v := p.get("alarms")
	if v == nil {
		return s
	}
	o := p.reader.object(v, p.where+": alarms", "")
	s.ReferenceSuction = o.quantity("reference_suction", refSuction, s.ReferenceSuction)
	s.FalseAlarmsPerYear = o.number("false_alarms_per_year", 0.05, 52, s.FalseAlarmsPerYear)
	s.FilterNotice = o.duration("filter_notice", notice, s.FilterNotice)
	s.LeakToTell = o.quantity("leak_to_tell", leakFlow, 0)
	o.close()
	return s
}

// duration reads a time.
func (o *object) duration(key string, l limit, otherwise time.Duration) time.Duration {
	s := o.quantity(key, l, otherwise.Seconds())
	return time.Duration(math.Round(s * float64(time.Second)))
}
