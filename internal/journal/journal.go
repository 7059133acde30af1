// Package journal holds what people did: the entries, their kinds and their CSV.
package journal

import "time"

// Kind names what was done. The names are part of the contract with other programs.
type Kind string

// The kinds of entry.
const (
	FilterCleaned  Kind = "filter-cleaned"
	FilterReplaced Kind = "filter-replaced"
	BinEmptied     Kind = "bin-emptied"
	Sealed         Kind = "sealed"
	GateReplaced   Kind = "gate-replaced"
	HoseChanged    Kind = "hose-changed"
	DuctChanged    Kind = "duct-changed"
	SensorChanged  Kind = "sensor-changed"
	Baseline       Kind = "baseline"
	Check          Kind = "check"
	LeakHunt       Kind = "leak-hunt"       // begun: the runs that follow are tests, each judged as it ends
	LeakHuntEnded  Kind = "leak-hunt-ended" // the runs that follow are work again
	Alarm          Kind = "alarm"           // what happened to an alarm; the tool writes it
	Gap            Kind = "gap"             // a time without readings; the tool writes it
	ZeroMoved      Kind = "sensor-zero"     // a zero that moved and was taken; the tool writes it
	Other          Kind = "other"

	BaselineAccepted Kind = "baseline-accepted" // a person has looked at it; the note begins "version N"
	BaselineRejected Kind = "baseline-rejected" // the one before holds again; "version N", or none: the one in the making
	BaselineRestored Kind = "baseline-restored" // an older one holds again; the note begins "version N"
)

// Own tells whether the tool itself writes entries of the kind, and people do not.
func (k Kind) Own() bool { return k == Alarm || k == Gap || k == ZeroMoved }

// Result is how a check went.
type Result string

// The results of a check.
const (
	InOrder    Result = "ok"
	NotInOrder Result = "not ok"
	NotDone    Result = "not done"
)

// Results lists the results in the order in which they are shown.
var Results = []Result{InOrder, NotInOrder, NotDone}

// Kinds lists what people write down, in the order in which it is shown.
var Kinds = []Kind{FilterCleaned, FilterReplaced, BinEmptied, Sealed, GateReplaced, HoseChanged, DuctChanged,
	SensorChanged, Baseline, BaselineAccepted, BaselineRejected, BaselineRestored, Check, LeakHunt, LeakHuntEnded, Other}

// Entry is one thing that somebody did. It is never edited: a correction is a new entry.
type Entry struct {
	Time    time.Time
	Kind    Kind
	Subject string // a name from the shop file; "" for the shop as a whole
	Note    string
	By      string

	Corrects uint64 `json:",omitempty"` // number of the entry in whose place this one stands; 0: none
	Result   Result `json:",omitempty"` // of a check
	Action   string `json:",omitempty"` // what is to be done about it
	Alarm    string `json:",omitempty"` // ID of the alarm to which something happened
	Event    string `json:",omitempty"` // what happened to it
}
