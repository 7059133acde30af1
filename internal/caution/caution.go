// Package caution holds the safety words that stand beside every step which opens a duct, a gate, a filter or a bin, climbs,
// or drills: once, each with its source. They say what can hurt, first of all to isolate and lock out the fan, and they
// defer to the local code: the tool advises, its owner's rules come first, and nothing here says that a place is safe.
package caution

import "ductward/internal/finding"

// Caution is one thing to mind.
type Caution struct {
	Text   string
	Source string // where it is printed; "common practice, no source" where that is all
}

const noSource = "common practice, no source"

// The cautions.
var (
	LockOut = Caution{"First isolate and lock out the fan and every machine that blows into the duct, and wait until it has run down.",
		"29 CFR 1910.147; OSHA eTool on lockout/tagout"}
	DustBurns = Caution{"Wood dust burns, and thrown up it can explode: keep sparks, flames and hot work away, and do not raise settled dust.",
		"HSE WIS32; OSHA woodworking eTool, fire and explosion"}
	Breathe = Caution{"Wear a respirator that fits you (assigned protection factor 20 or more). No dry sweeping, no compressed air: use a vacuum of dust class M or H.",
		"Timber Trades Journal, on HSE's advice, ttjonline.com/?p=2320"}
	Bonded   = Caution{"Metal duct and conductive hose carry static charge away: bond and earth again whatever you opened.", noSource}
	Ladder   = Caution{"The place may be high: use a ladder or platform that is fit for it, and do not work alone.", noSource}
	Electric = Caution{"Work on the motor, its drive or its switchgear belongs to an electrician.", noSource}
	Drilling = Caution{"Drilling a duct is hot work: lock out, and clean inside and out first.", noSource}
	Purge    = Caution{"Take the tube off the sensor before you blow it out, and blow towards the duct, never into the sensor.", noSource}
	AllGates = Caution{"Do not shut every gate to look for a leak, unless the ducts are rated for the fan’s shut-off pressure: ducts have crumpled that way.",
		"an owner's report, craftisian.com/updates/368"}
	MachinesIdle  = Caution{"No machine may cut while gates are opened and shut for this: stop them all, and see that nobody starts one.", noSource}
	LockOutToOpen = Caution{"Moving a gate needs no lock-out. Before you reach into a hood or open a duct: isolate and lock out the fan and the machine.",
		"29 CFR 1910.147"}
	FanRuns  = Caution{"The fan runs: move the gates that are named and open nothing else, no duct, no housing, no bin.", noSource}
	RoomDust = Caution{"With air returned to the room, dust may be passing the filter: stop work that makes dust until it has been looked at.",
		"DGUV Information 209-044 on returned air"}
	Authority    = Caution{"The local code, the authority in charge, the insurer and licensed practice come first.", noSource}
	NoInstrument = Caution{"This tool advises. It is not a safety instrument: a quiet page is no proof that the air is clean or that a place is safe. It replaces no examination, no air sampling and no spark or explosion protection. Local codes and licensed practice come first.",
		"HSE, thorough examination of LEV under COSHH regulation 9"}
)

// For lists what to mind for a kind of finding, in the order in which it matters.
func For(k finding.Kind) []Caution {
	switch k {
	case finding.FilterDue, finding.FilterNotRecovering, finding.FilterCleaned:
		return []Caution{LockOut, Breathe, DustBurns, Authority}
	case finding.FilterLostResistance:
		return []Caution{RoomDust, LockOut, Breathe, DustBurns, Authority}
	case finding.NewLeak, finding.GrowingLeak, finding.GateLeaks, finding.LeakMended:
		return []Caution{LockOut, Ladder, Bonded, DustBurns, AllGates, Authority}
	case finding.DropBlocked, finding.TrunkBlocked, finding.OpenSideChanged, finding.AirShort, finding.DustMaySettle:
		return []Caution{LockOut, DustBurns, Breathe, Bonded, Authority}
	case finding.FanSlow, finding.RestrictionAfterTap:
		return []Caution{LockOut, Electric, Authority}
	case finding.SensorZero, finding.SensorStuck, finding.SensorPlugged, finding.SensorLost, finding.SensorDisagrees:
		return []Caution{LockOut, Purge, Ladder, Authority}
	}
	return []Caution{LockOut, DustBurns, Authority}
}
