package dashboard

import "ductward/internal/finding"

// Cautions stand beside every piece of advice. They say what can hurt, first of all to isolate and lock out the fan,
// and they defer to the local code: the tool advises, and its owner's rules come first.

const (
	lockOut       = "First isolate and lock out the fan and every machine that blows into the duct, and wait until it has run down."
	dustBurns     = "Wood dust burns, and thrown up it can explode: keep sparks, flames and hot work away, and do not raise settled dust."
	breathe       = "Wear a respirator that fits you (assigned protection factor 20 or more). No dry sweeping, no compressed air: use a vacuum of dust class M or H."
	bonded        = "Metal duct and conductive hose carry static charge away: bond and earth again whatever you opened."
	ladder        = "The place may be high: use a ladder or platform that is fit for it, and do not work alone."
	electric      = "Work on the motor, its drive or its switchgear belongs to an electrician."
	authority     = "The local code, the authority in charge, the insurer and licensed practice come first."
	allGates      = "Do not shut every gate to look for a leak, unless the ducts are rated for the fan’s shut-off pressure: ducts have crumpled that way."
	machinesIdle  = "No machine may cut while gates are opened and shut for this: stop them all, and see that nobody starts one."
	lockOutToOpen = "Moving a gate needs no lock-out. Before you reach into a hood or open a duct: isolate and lock out the fan and the machine."
	roomDust      = "With air returned to the room, dust may be passing the filter: stop work that makes dust until it has been looked at."
)

// cautions lists what to mind for a kind of finding, in the order in which it matters.
func cautions(k finding.Kind) []string {
	switch k {
	case finding.FilterDue, finding.FilterNotRecovering, finding.FilterCleaned:
		return []string{lockOut, breathe, dustBurns, authority}
	case finding.FilterLostResistance:
		return []string{roomDust, lockOut, breathe, dustBurns, authority}
	case finding.NewLeak, finding.GrowingLeak, finding.GateLeaks, finding.LeakMended:
		return []string{lockOut, ladder, bonded, dustBurns, allGates, authority}
	case finding.DropBlocked, finding.TrunkBlocked, finding.OpenSideChanged, finding.AirShort, finding.DustMaySettle:
		return []string{lockOut, dustBurns, breathe, bonded, authority}
	case finding.FanSlow:
		return []string{lockOut, electric, authority}
	case finding.SensorZero, finding.SensorStuck, finding.SensorPlugged, finding.SensorLost, finding.SensorDisagrees:
		return []string{lockOut, "Take the tube off the sensor before you blow it out, and blow towards the duct, never into the sensor.", ladder, authority}
	}
	return []string{lockOut, dustBurns, authority}
}
