package plant

import (
	"fmt"
	"math"
	"time"
)

// EventKind says what happens in an event.
type EventKind int

// What can happen. The comments say which fields of Event count.
const (
	DayEvent      EventKind = iota // a new day: fan, zeros and day errors are drawn
	FanEvent                       // On
	GateEvent                      // Name of the gate, On: open
	PortEvent                      // Name of the selector, Value: port
	UseEvent                       // Name of the machine: its hood is set anew
	FilterEvent                    // Value: resistance of the medium against clean
	CleanedEvent                   // the filter was cleaned, Value: resistance afterwards
	AirEvent                       // Air
	LeakEvent                      // Name of the part, Value: m³/s at 1500 Pa
	BlockEvent                     // Name of the machine, Value: factor on its drop's losses
	RunBlockEvent                  // Name of the run, Value: factor on its losses
	SpeedEvent                     // Value: speed ratio of the fan
	RestrictEvent                  // Value: Pa that a restriction at the fan takes at 1 m³/s of air of 1.2 kg/m³
	ReverseEvent                   // Value: 1 the fan turns backwards, 0 as it should
	ZeroEvent                      // Name of the channel, Value: Pa beside its ordinary drift
	PlugEvent                      // Name of the channel, Value: 1 plugged, 0 free
	SideEvent                      // Name of the channel, Value: 1 its high side is shut off from the air, -1 its low side, 0 neither
	HoleEvent                      // Value: m³/s at 1500 Pa that pass the filter's medium
	ChipEvent                      // Name of the machine, Value: factor of the chips in its drop on the drop's losses

	// In Fault only; see Fault.Size.
	TearEvent      // the filter tears
	DustEvent      // the filter loads faster
	WarmEvent      // the room is warmer
	BarometerEvent // the barometer stands otherwise
	HumidEvent     // the room's air is damper
)

// Event is one thing that happens on a day.
type Event struct {
	At    time.Duration // since the day's midnight
	Kind  EventKind
	Name  string
	On    bool
	Value float64
	Air   Weather
}

// Apply puts an event into effect.
func (p *Plant) Apply(e Event) error {
	switch e.Kind {
	case DayEvent:
		p.NewDay()
	case FanEvent:
		p.SetFan(e.On)
	case GateEvent:
		return p.SetGate(e.Name, e.On)
	case PortEvent:
		return p.SetPort(e.Name, int(e.Value))
	case UseEvent:
		return p.UseMachine(e.Name)
	case FilterEvent, CleanedEvent:
		p.SetFilterRatio(e.Value)
	case AirEvent:
		p.SetAir(e.Air)
	case LeakEvent:
		return p.SetLeak(e.Name, e.Value)
	case BlockEvent:
		return p.SetBlock(e.Name, e.Value)
	case RunBlockEvent:
		return p.SetRunBlock(e.Name, e.Value)
	case SpeedEvent:
		p.SetFanSpeed(e.Value)
	case RestrictEvent:
		p.SetRestriction(e.Value)
	case ReverseEvent:
		p.SetReversed(e.Value != 0)
	case ZeroEvent:
		p.SetZero(e.Name, e.Value)
	case PlugEvent:
		p.Plug(e.Name, e.Value != 0)
	case SideEvent:
		p.ShutSide(e.Name, int(e.Value))
	case HoleEvent:
		p.SetHole(e.Value)
	case ChipEvent:
		return p.SetChips(e.Name, e.Value)
	default:
		return fmt.Errorf("plant %q: an event of kind %d cannot happen", p.c.Name, e.Kind)
	}
	return nil
}

// Fault is something that goes wrong on a day and may get worse. What is in Fault only, and chips, are so from that day's
// midnight on.
type Fault struct {
	Day   int           // number of the day, as in Workdays.Day
	At    time.Duration // since that day's midnight
	Lasts time.Duration // for how long it is so on each day, from At; 0: until it is mended
	Kind  EventKind     // from LeakEvent on
	Name  string        // as in Event; of chips "": every machine
	// Size is as Event.Value on the first day. Of a tear it is its conductance against the clean filter's; of dust how many times as
	// fast the filter loads; of the air K, Pa and parts of 1 of relative humidity beside the season's; of chips the factor while a
	// machine cuts.
	Size   float64
	PerDay float64 // by how much Size grows each calendar day
	Until  int     // day on whose morning it is mended; 0: never
}

// mended is the value of a kind at which nothing is wrong.
func mended(k EventKind) float64 {
	switch k {
	case BlockEvent, RunBlockEvent, SpeedEvent, ChipEvent, DustEvent:
		return 1
	}
	return 0
}

// on returns the fault's size on a day, and whether it is there.
func (f *Fault) on(day int) (size float64, there bool) {
	if day < f.Day || f.Until > 0 && day >= f.Until {
		return mended(f.Kind), false
	}
	return f.Size + f.PerDay*float64(day-f.Day), true
}

// events returns what a fault does on a day, if anything. What grows is moved every morning.
func (f *Fault) events(day int) []Event {
	if f.Kind >= ChipEvent {
		return nil
	}
	size, there := f.on(day)
	e := Event{Kind: f.Kind, Name: f.Name, Value: size}
	switch {
	case there && f.Lasts > 0:
		e.At = f.At
		over := Event{At: f.At + f.Lasts, Kind: f.Kind, Name: f.Name, Value: mended(f.Kind)}
		return []Event{e, over}
	case there && day == f.Day:
		e.At = f.At
		return []Event{e}
	case there && f.PerDay != 0, f.Until > 0 && day == f.Until:
		e.At = time.Minute
		return []Event{e}
	}
	return nil
}

// inAll returns the sum over those faults of a kind that are there on a day.
func inAll(faults []Fault, kind EventKind, day int) float64 {
	sum := 0.0
	for i := range faults {
		if size, there := faults[i].on(day); there && faults[i].Kind == kind {
			sum += size
		}
	}
	return sum
}

// torn returns the resistance of a filter that has torn, as a hole beside the medium.
func torn(ratio float64, faults []Fault, day int) float64 {
	for i := range faults {
		if faults[i].Kind != TearEvent {
			continue
		}
		if size, there := faults[i].on(day); there {
			ratio = 1 / (1/ratio + math.Max(0, size))
		}
	}
	return ratio
}
