package dashboard

import (
	"strings"
	"time"

	"ductward/internal/finding"
	"ductward/internal/journal"
	"ductward/internal/shop"
)

// kindTitles say in a few words what each kind of finding is.
var kindTitles = map[finding.Kind]string{
	finding.FilterDue:            "Filter due for cleaning",
	finding.FilterCleaned:        "Filter cleaned",
	finding.FilterNotRecovering:  "Filter no longer recovers",
	finding.FilterLoadsFast:      "Filter loads much faster than usual",
	finding.FilterLostResistance: "Filter lost resistance: it may be torn or not sealed",
	finding.NewLeak:              "New leak",
	finding.GrowingLeak:          "Growing leak",
	finding.LeakMended:           "Leak mended",
	finding.GateLeaks:            "Gate leaks",
	finding.GateLeftOpen:         "Gate left open",
	finding.GateFoundShut:        "Gate found shut",
	finding.DropBlocked:          "Drop partly blocked",
	finding.OpenSideChanged:      "Machine side changed",
	finding.TrunkBlocked:         "Trunk partly blocked",
	finding.FanSlow:              "Fan slow",
	finding.RestrictionAfterTap:  "Fan weak, or something in its way",
	finding.AirShort:             "Too little air",
	finding.DustMaySettle:        "Dust may settle",
	finding.BinFull:              "Bin full",
	finding.DustInReturn:         "Dust in the returned air",
	finding.SensorZero:           "Sensor’s zero has moved",
	finding.SensorStuck:          "Sensor stuck",
	finding.SensorPlugged:        "Sensor’s tap or tube plugged",
	finding.SensorNoisy:          "Sensor has become noisy",
	finding.SensorLost:           "Sensor not answering",
	finding.SensorDisagrees:      "Sensor disagrees with the others",
}

// kindTitle says what a finding is; a kind that a newer watch adds is shown by its own name.
func kindTitle(k finding.Kind) string {
	if t, ok := kindTitles[k]; ok {
		return t
	}
	return capital(strings.ReplaceAll(string(k), "-", " "))
}

// entryTitles say what each kind of logbook line is, in words that fit on a button.
var entryTitles = map[journal.Kind]string{
	journal.FilterCleaned:  "Filter cleaned",
	journal.FilterReplaced: "Filter replaced",
	journal.BinEmptied:     "Bin emptied",
	journal.Sealed:         "Seam re-sealed",
	journal.GateReplaced:   "Gate replaced",
	journal.HoseChanged:    "Hose changed",
	journal.DuctChanged:    "Duct changed",
	journal.SensorChanged:  "Sensor changed",
	journal.Baseline:       "New baseline begun",

	journal.BaselineAccepted: "Baseline accepted",
	journal.BaselineRejected: "Baseline rejected",
	journal.BaselineRestored: "Older baseline holds again",

	journal.Check:         "Check done",
	journal.Gap:           "Gap in the readings",
	journal.ZeroMoved:     "Sensor’s zero moved",
	journal.LeakHunt:      "Leak hunt begun",
	journal.LeakHuntEnded: "Leak hunt ended",
	journal.Other:         "Something else",
}

// entryTitle says what a logbook line is.
func entryTitle(k journal.Kind) string {
	if t, ok := entryTitles[k]; ok {
		return t
	}
	return capital(strings.ReplaceAll(string(k), "-", " "))
}

// partName says in words which part a qualified name means: "seat:planer" is "the shut gate planer".
func partName(part string) string {
	kind, name, ok := strings.Cut(part, ":")
	if !ok {
		switch part {
		case "none":
			return "nowhere: nothing has changed"
		case "several":
			return "several places at once"
		case "other":
			return "somewhere else"
		case "fan-wheel":
			return "the fan’s wheel"
		case "past-filter":
			return "past the filter’s medium"
		case "behind-tap":
			return "between the last tap and the outlet"
		case "clean-side":
			return "air that enters between filter and fan"
		}
		return part
	}
	switch kind {
	case "run":
		return "seam of " + name
	case "seat":
		return "past the shut gate " + name
	case "drop":
		return "drop on the trunk side of " + name
	case "open-side":
		return "machine side of the gate at " + name
	case "blockage":
		return "blockage in the drop of " + name
	case "choked":
		return "blockage in " + name
	case "inlet":
		return "at the inlet of collector " + name + ", its separator or bin lid"
	}
	return part
}

// groupName says which parts a group holds, the alike ones together: "seam of trunk 4 or trunk 5; past the shut gate
// planer".
func groupName(members []string) string {
	var kinds []string
	names := map[string][]string{}
	for _, m := range members {
		kind, name, _ := strings.Cut(m, ":")
		if names[kind] == nil {
			kinds = append(kinds, kind)
		}
		names[kind] = append(names[kind], name)
	}
	var out []string
	for _, kind := range kinds {
		n := names[kind]
		list := n[len(n)-1]
		if len(n) > 1 {
			list = strings.Join(n[:len(n)-1], ", ") + " or " + list
		}
		if list != "" { // of the fan's parts there is one each
			kind += ":" + list
		}
		out = append(out, partName(kind))
	}
	return strings.Join(out, "; ")
}

// measure says what a sensor measures and in which unit it is shown; the value shown is SI·factor + offset.
type measure struct {
	words  string
	si     string
	unit   string
	factor float64
	offset float64
}

var measures = map[shop.Quantity]measure{
	shop.FilterDrop:         {"filter drop", "Pa", "Pa", 1, 0},
	shop.StaticPressure:     {"static pressure", "Pa", "Pa", 1, 0},
	shop.VelocityPressure:   {"velocity pressure", "Pa", "Pa", 1, 0},
	shop.AirTemperature:     {"air temperature", "K", "°C", 1, -273.15},
	shop.BarometricPressure: {"barometric pressure", "Pa", "hPa", 0.01, 0},
	shop.RelativeHumidity:   {"relative humidity", "1", "%", 100, 0},
	shop.FanPower:           {"fan power", "W", "kW", 1e-3, 0},
	shop.FanSpeed:           {"fan speed", "Hz", "rev/min", 60, 0},
	shop.SeparatorDrop:      {"separator drop", "Pa", "Pa", 1, 0},
	shop.BinWeight:          {"bin weight", "kg", "kg", 1, 0},
}

// switchMeasure is that of a gate, a selector, a contact or the fan.
var switchMeasure = measure{"position", "1", "", 1, 0}

// channel is one channel that the shop file names.
type channel struct {
	Name  string
	every time.Duration // between readings; 0: it speaks when it moves
	measure
}

// channels lists every channel, sensors first, in the order of the shop file.
func (s *server) channels() []channel {
	var out, switches []channel
	for _, c := range s.Shop.Collectors {
		for _, x := range c.Sensors {
			out = append(out, channel{c.Name + "/" + x.Name, x.Interval, s.measureOf(x.Measures)})
		}
		switches = append(switches, channel{c.Name + "/fan", 0, switchMeasure})
		for _, g := range c.Gates {
			switches = append(switches, channel{"gate/" + g.Name, 0, switchMeasure})
		}
		for _, l := range c.Selectors {
			switches = append(switches, channel{"selector/" + l.Name, 0, switchMeasure})
		}
		for _, x := range c.Contacts {
			switches = append(switches, channel{shop.ContactChannel(x.Name), 0, switchMeasure})
		}
	}
	return append(out, switches...)
}

// channel finds a channel by its name.
func (s *server) channel(name string) (channel, bool) {
	for _, c := range s.channels() {
		if c.Name == name {
			return c, true
		}
	}
	return channel{}, false
}

// channelUnit returns the SI unit of a channel of the shop file.
func (s *server) channelUnit(name string) (string, bool) {
	c, ok := s.channel(name)
	return c.si, ok
}

// subjects lists what a logbook line can be about, without repeats, in the order of the shop file.
func (s *server) subjects() []string {
	var out []string
	seen := map[string]bool{}
	add := func(name string) {
		if name != "" && !seen[name] {
			seen[name] = true
			out = append(out, name)
		}
	}
	for _, c := range s.Shop.Checks {
		add(c.Name)
	}
	for _, c := range s.Shop.Collectors {
		add(c.Name)
		for _, m := range c.Machines {
			add(m.Name)
		}
		for _, g := range c.Gates {
			add(g.Name)
		}
		for _, l := range c.Selectors {
			add(l.Name)
		}
		if c.Network != nil {
			for _, r := range c.Network.Runs {
				add(r.Name)
			}
		}
		for _, x := range c.Sensors {
			add(x.Name)
		}
	}
	return out
}
