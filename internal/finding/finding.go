// Package finding defines what the watch has to say: what changed, how much, since when, where, how sure, and what to
// do about it.
package finding

import "time"

// Kind names a kind of finding. The names are part of the contract with other programs: they are added to, never
// changed.
type Kind string

// The kinds of finding.
const (
	FilterDue            Kind = "filter-due"
	FilterCleaned        Kind = "filter-cleaned"
	FilterNotRecovering  Kind = "filter-not-recovering"
	FilterLoadsFast      Kind = "filter-loads-fast"
	FilterLostResistance Kind = "filter-lost-resistance"
	NewLeak              Kind = "new-leak"
	GrowingLeak          Kind = "growing-leak"
	LeakMended           Kind = "leak-mended"
	GateLeaks            Kind = "gate-leaks"
	GateLeftOpen         Kind = "gate-left-open"
	GateFoundShut        Kind = "gate-found-shut"
	DropBlocked          Kind = "drop-blocked"
	OpenSideChanged      Kind = "open-side-changed"
	TrunkBlocked         Kind = "trunk-blocked"
	FanSlow              Kind = "fan-slow"
	RestrictionAfterTap  Kind = "restriction-after-tap"
	AirShort             Kind = "air-short"
	DustMaySettle        Kind = "dust-may-settle"
	BinFull              Kind = "bin-full"
	DustInReturn         Kind = "dust-in-return"
	SensorZero           Kind = "sensor-zero"
	SensorStuck          Kind = "sensor-stuck"
	SensorPlugged        Kind = "sensor-plugged"
	SensorNoisy          Kind = "sensor-noisy"
	SensorLost           Kind = "sensor-lost"
	SensorDisagrees      Kind = "sensor-disagrees"
	RecordFailing        Kind = "record-failing"   // what is read reaches the disk no more
	RecordDamaged        Kind = "record-damaged"   // a part of what was stored is damaged
	DeliveryFailing      Kind = "delivery-failing" // a target of letters does not take them
)

// Priority says what a finding asks of a person.
type Priority string

// The priorities. Journal asks nothing of anybody and raises no alarm.
const (
	ActToday   Priority = "act today"
	Plan       Priority = "plan"
	Instrument Priority = "instrument trouble"
	Journal    Priority = "journal"
)

// Place is one candidate for where something is. Part is qualified as in "run:NAME", "seat:GATE", "drop:GATE",
// "open-side:MACHINE", "blockage:MACHINE", "choked:RUN", "fan", "fan-wheel", "behind-tap", "clean-side", "none", "several" or
// "other". Members names what a group holds that cannot be told apart.
type Place struct {
	Part        string   `json:"part"`
	Members     []string `json:"members,omitempty"`
	Probability float64  `json:"probability"`
}

// Finding is one thing that the watch has found. Sizes are SI in SizeUnit; a size that is not known is NaN. The times
// are civil; zero means not known.
type Finding struct {
	ID             string // stable over restarts and rebuilds
	Collector      string
	Kind           Kind
	Subject        string // the channel, machine, gate or run that it is about; "" for the collector as a whole
	Priority       Priority
	Raised         time.Time
	Onset          time.Time
	OnsetLow       time.Time
	OnsetHigh      time.Time
	Ended          time.Time // zero: still so
	Size           float64
	SizeLow        float64 // of the interval at Confidence
	SizeHigh       float64
	SizeUnit       string // "m3/s", "Pa", "1", …
	Confidence     float64
	Where          []Place
	ConfusableWith []string // words, in order of likelihood
	Text           string   // one or two sentences: what, how much, since when, how sure
	Action         string   // what to do, safest first
	Evidence       string   // which readings say so
	Under          string   `json:",omitempty"` // ID of the finding whose consequence it is; "": it stands by itself
}

// Active tells whether the finding still holds.
func (f *Finding) Active() bool { return f.Ended.IsZero() }
