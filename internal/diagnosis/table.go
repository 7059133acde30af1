package diagnosis

import (
	"ductward/internal/caution"
	"ductward/internal/finding"
)

// Row is what there is to know about one kind of finding. In Check and Then, "{it}" stands for what the finding is about.
type Row struct {
	Causes   []Cause
	Check    string // the first look: nothing is opened
	Then     string // what follows; "": nothing
	Opens    bool   // it opens a duct, a gate, a filter or a bin: the fan is locked out before
	It       string // stands for what the finding is about where it does not say
	Waits    string // what happens if it waits
	Clears   string // when its alarm clears
	Cautions []caution.Caution
}

// The cautions of alike findings, in the order in which they matter.
var (
	atFilter  = []caution.Caution{caution.LockOut, caution.Breathe, caution.DustBurns, caution.Authority}
	pastMedia = []caution.Caution{caution.RoomDust, caution.LockOut, caution.Breathe, caution.DustBurns, caution.Authority}
	atLeak    = []caution.Caution{caution.LockOut, caution.Ladder, caution.Bonded, caution.DustBurns, caution.AllGates, caution.Authority}
	atPlug    = []caution.Caution{caution.LockOut, caution.DustBurns, caution.Breathe, caution.Bonded, caution.Authority}
	atFan     = []caution.Caution{caution.LockOut, caution.Electric, caution.Authority}
	atSensor  = []caution.Caution{caution.LockOut, caution.Purge, caution.Ladder, caution.Authority}
	anywhere  = []caution.Caution{caution.LockOut, caution.DustBurns, caution.Authority}
	atBoard   = []caution.Caution{caution.Electric, caution.Authority}
)

// Of returns the row of a kind of finding. One that the table does not know has the cautions that always hold, and no more.
func Of(k finding.Kind) Row {
	if r, ok := table[k]; ok {
		return r
	}
	return Row{Cautions: anywhere}
}

const (
	leakClears   = "It clears when some days show that next to nothing of it is left, or with a new baseline."
	changeClears = "It clears when the readings go back to what they were before, when later days show that it was something else, or with a new baseline, which an entry that the duct was changed or a baseline taken asks for."
)

const leakWaits = "Every machine has less air, the run behind it carries its chips worse, and a seam grows."

var table = map[finding.Kind]Row{
	finding.FilterDue: {
		Causes: []Cause{loaded, binFull, binLid, damp},
		Check:  "Look whether the bin is full, and plan the cleaning.",
		Then:   "Then clean the filter, and enter it in the logbook.", Opens: true,
		Waits:    "The neediest machine falls below the air that it needs first, then the filter comes to its own limit; dust that is not drawn off stays in the room.",
		Clears:   "It clears with the next cleaning that lowers the filter’s resistance.",
		Cautions: atFilter,
	},
	finding.FilterCleaned: {
		Causes:   []Cause{cleaned, newMedia},
		Check:    "Nothing need be done. If the logbook does not have it, enter it.",
		Cautions: atFilter,
	},
	finding.FilterNotRecovering: {
		Causes: []Cause{loaded, damp, shortCleaning},
		Check:  "Look in the logbook how long the last cleanings took, and whether damp dust came in.",
		Then:   "Then clean the filter more thoroughly, or plan new media.", Opens: true,
		Waits:    "Cleanings must come sooner and sooner, and the air at the machines falls short between them.",
		Clears:   "It clears with the baseline that is taken after new media: enter it in the logbook.",
		Cautions: atFilter,
	},
	finding.FilterLoadsFast: {
		Causes: []Cause{binFull, damp, moreDust},
		Check:  "Look how full the bin is, and whether damp or very fine dust was made these days.",
		Then:   "Then empty the bin, and clean the filter once it is dry.", Opens: true,
		Waits:    "The filter comes to its limit within days instead of weeks; damp dust cakes, and no cleaning recovers it then.",
		Clears:   "It clears when a day’s loading is about as usual again.",
		Cautions: atFilter,
	},
	finding.FilterLostResistance: {
		Causes: []Cause{torn, newMedia, cleaned, housingHole, tubeOff},
		Check:  "Look for dust on the clean side and in the return air. If there is any, stop the machines. If the filter was replaced or cleaned, enter it in the logbook.",
		Then:   "Then look at the media and its seat, with a respirator on.", Opens: true,
		Waits:    "Fine dust may blow back into the room, where air is returned: a falling filter drop is no good news.",
		Clears:   "It clears when the logbook has a cleaning or a replacement that explains it; where a hole was told, when some days read as with whole media.",
		Cautions: pastMedia,
	},
	finding.BinFull: {
		Causes: []Cause{binFull, bridged, binTold},
		Check:  "Stop the machines and look how full the bin is.",
		Then:   "Then empty it, see that its lid seals again, and enter it in the logbook.", Opens: true,
		Waits:    "Chips and dust go past the separator into the filter, which then loads several times faster than usual.",
		Clears:   "It clears when the switch opens again, or the scale reads less.",
		Cautions: atFilter,
	},
	finding.DustInReturn: {
		Causes: []Cause{torn, freshMedia, cleanSide, dimMonitor},
		Check:  "Stop work that makes dust, and lead the air outdoors where there is a flap for it.",
		Then:   "Then look at every filter element and its seal. If they are whole, clean the monitor as its maker says.", Opens: true,
		Waits:    "Fine dust blows back into the room with the air that is returned.",
		Clears:   "It clears when the monitor’s contact opens while the fan runs.",
		Cautions: pastMedia,
	},
	finding.NewLeak:     leakRow([]Cause{seam, hoseOff, gateOpen, binLid, seat, changedHood}),
	finding.GrowingLeak: leakRow([]Cause{seam, seat, gateOpen}),
	finding.LeakMended: {
		Causes:   []Cause{sealed, plugged},
		Check:    "Nothing need be done. If somebody sealed it, enter it in the logbook.",
		Cautions: atLeak,
	},
	finding.GateLeaks: {
		Causes: []Cause{seat, gateOpen, seam},
		Check:  "Look from outside whether {it} is fully shut and whether dust holds its slide.",
		Then:   "Then clean its slide and seat, or change it.", Opens: true, It: "the gate that is named",
		Waits:    leakWaits,
		Clears:   leakClears,
		Cautions: atLeak,
	},
	finding.GateLeftOpen: {
		Causes: []Cause{gateOpen, hoseOff, seam},
		Check:  "Look at {it}: shut it. If it stands shut, its switch is wrong or was not entered, or the duct behind it has come off: look along it from outside.",
		It:     "the gates that are named",
		Waits:  "The other machines have less air all the while, and the fan draws power for nobody.",
		Clears: "It clears when a run with every gate shut reads as it should, or the gate is told open.", Cautions: atLeak,
	},
	finding.GateFoundShut: {
		Causes: []Cause{shutTold, plugged},
		Check:  "Look at {it}: if it stands shut, enter that it is shut, or have its switch looked at. If it stands open, its drop passes no air.",
		Then:   "Then look into its hood and hose, and clear the drop.", Opens: true, It: "the gates that are named",
		Waits:    "What is told of this machine’s air is wrong all the while, and runs that are told with it serve only where the pressures say how it stands. If it is the drop, dust stays at this machine.",
		Clears:   "It clears when the gate is told shut, or a run shows that it is open.",
		Cautions: atPlug,
	},
	finding.OpenSideChanged: {
		Causes: []Cause{hoseOff, changedHood},
		Check:  "Look along the hose of {it}, its ends and its hood from outside, the machine idle: a tear, a clamp come off, a flap left open. If the hose or the hood was changed, enter it in the logbook.",
		Then:   "Then mend it.", Opens: true, It: "the machine",
		Waits:    "Dust escapes at this machine, and the others have less air while its gate is open.",
		Clears:   changeClears,
		Cautions: atPlug,
	},
	finding.DropBlocked: {
		Causes: []Cause{plugged, halfShut, squashed},
		Check:  "Look at the hood, the hose and the gate of {it} from outside: chips at the hood, a gate half shut, a squashed hose.",
		Then:   "Then clear the drop.", Opens: true, It: "the machine",
		Waits:    "Dust stays at this machine, and the drop goes on filling: the slower the air, the more settles.",
		Clears:   changeClears,
		Cautions: atPlug,
	},
	finding.TrunkBlocked: {
		Causes: []Cause{trunkPlugged, collapsed},
		Check:  "Walk along {it} and look for a dent; knock from outside and listen. Open nothing under suction.",
		Then:   "Then clear it, and look why the air was too slow there.", Opens: true, It: "the trunk",
		Waits:    "All machines behind it have less air, and chips pile up until it is packed solid; packed chips can burn.",
		Clears:   changeClears,
		Cautions: atPlug,
	},
	finding.FanSlow: {
		Causes: []Cause{slow, pluggedBehind, caked, noMakeUp, reversed},
		Check:  "Listen to the fan, look at the drive’s setting and at the outlet, and open a door.",
		Then:   "Then look at the belt, the wheel and what lies between the tap and the outlet.", Opens: true,
		Waits:    "Every machine has less air, and chips settle wherever it gets too slow.",
		Clears:   changeClears,
		Cautions: atFan,
	},
	finding.RestrictionAfterTap: {
		Causes: []Cause{pluggedBehind, noMakeUp, slips, caked, cleanSideLeak, reversed},
		Check:  "Look at the outlet from outside, at a flap or a damper, and whether the room lacks air when its doors are shut.",
		Then:   "Then look at the fan’s inlet, its wheel and its drive.", Opens: true,
		Waits:    "Every machine has less air, and chips settle wherever it gets too slow.",
		Clears:   changeClears,
		Cautions: atFan,
	},
	finding.AirShort: {
		Causes: []Cause{gateOpen, loaded, seam, plugged, needTooHigh},
		Check:  "Shut the gates that are not in use. Then look from outside at the hose and the hood of {it}, and see whether the filter is due and leaks are found: both take air from every machine.",
		It:     "the machines that are named",
		Waits:  "Dust that is not drawn off stays in the room and in the lungs, whatever the gauge says.",
		Clears: "It clears when the model, at the filter and the leakage of the day, gives them what they need again.", Cautions: atPlug,
	},
	finding.DustMaySettle: {
		Causes: []Cause{fewOpen, loaded, seam, slow},
		Check:  "Open a second gate while this machine works, or after it, so that {it} is swept clean now and then.",
		It:     "the run",
		Waits:  "Chips settle, the run gets narrower, and a heap can come loose at once or burn.",
		Clears: "It clears after five days of use in a row on which the run carried.", Cautions: atPlug,
	},
	finding.SensorZero: {
		Causes:   []Cause{water, otherFan, drifted, tubeOff},
		Check:    "See that no other fan runs on these ducts and no wind stands on the outlet. Then look along the tubes of {it} for water.",
		It:       "the sensor",
		Waits:    "It is left out: less can be told, and what depends on it alone cannot be told at all.",
		Clears:   "It clears at the next stop of the fan at which the sensor reads a zero that can be taken.",
		Cautions: atSensor,
	},
	finding.SensorStuck: sensorRow([]Cause{latched, cable, busStuck}),
	finding.SensorLost:  sensorRow([]Cause{cable, busStuck, latched}),
	finding.SensorPlugged: {
		Causes: []Cause{tapPlugged, water, tubeOff},
		Check:  "Look along the tube of {it} for a kink and for water at its low points.",
		Then:   "Then take the sensor off its tube, blow from the tube towards the duct, never into the sensor, and enter it in the logbook.", Opens: true,
		It:       "the sensor",
		Waits:    "It is left out: its mean may look right for long while it follows nothing any more.",
		Clears:   "It clears when the noise of the air is back in several runs.",
		Cautions: atSensor,
	},
	finding.SensorNoisy: {
		Causes:   []Cause{tubeOff, cable, water},
		Check:    "Look along the tube of {it} for an end that hangs loose or shakes, and for water that moves in it. Then see that its plug sits firmly and its cable does not lie beside that of the fan’s drive.",
		It:       "the sensor",
		Waits:    "Less can be told, and less surely: what it reads counts for less the more it moves.",
		Clears:   "It clears when the channel moves as it did in several runs.",
		Cautions: atSensor,
	},
	finding.SensorDisagrees: {
		Causes:   []Cause{tubeOff, tapPlugged, water, moved, drifted},
		Check:    "Look at the tubes of {it} for water, a kink, dust or an end that has come off, and at its tap. If the sensor or the tap was changed, enter it in the logbook.",
		It:       "the sensor",
		Waits:    "What depends on it cannot be told, or is told less surely.",
		Clears:   "It clears when the channel answers the fan again, or with a new baseline, which an entry that the sensor was changed asks for.",
		Cautions: atSensor,
	},
	finding.RecordFailing: {
		Causes:   []Cause{cardFull, cardWorn},
		Check:    "{it}. Do not switch the board off before it works again.",
		It:       "Make room on the disk that holds the data folder, or replace the card",
		Waits:    "What is read now is lost when the board stops, or when its memory for it is used up.",
		Clears:   "It clears when readings reach the disk again.",
		Cautions: atBoard,
	},
	finding.RecordDamaged: {
		Causes:   []Cause{powerCut, cardWorn},
		Check:    "Restore a backup if you miss something, and keep the file that was set aside until you know what was in it. A card that damages files once will do so again: replace it.",
		Waits:    "Nothing more is lost by waiting, but a card that fails goes on failing.",
		Clears:   "It clears at the next start that finds the file whole.",
		Cautions: atBoard,
	},
	finding.DeliveryFailing: {
		Causes:   []Cause{lineDown, receiverAway, wrongSecret},
		Check:    "Look whether {it} runs and the line to it is there; \"ductward tell\" with the shop file tries it at once.",
		It:       "the other end",
		Waits:    "Alarms are seen on the pages alone; what waits is given up after the time that the shop file states.",
		Clears:   "It clears when the other end answers; what waits is then sent.",
		Cautions: []caution.Caution{caution.Authority},
	},
}

// FanMeter is the row of a meter of the fan’s power or turns that contradicts the pressures.
var FanMeter = Row{
	Causes: []Cause{pickUp, cable, moved},
	Check:  "Look where {it} picks up the fan’s power or turns: a clamp that has moved, a mark that is gone. Enter it in the logbook if it was changed.",
	Then:   "Then look at the belt between what it counts and the wheel.", Opens: true,
	It:       "the meter",
	Waits:    "What only it tells, such as a fan that slows, is told later and less surely.",
	Clears:   "It clears when the meter agrees with the pressures again, or with a new baseline, which an entry that the sensor was changed asks for.",
	Cautions: atFan,
}

// Backwards is the first thing to look at where a fan has lost half its pressure.
const Backwards = "Was anything done to the fan’s supply? A fan that turns backwards still moves air the right way, about half as much: have its direction looked at first."

// ComesAndGoes is the first thing to try where a fan loses pressure and has it back within a day.
const ComesAndGoes = "Open a door or a window next time, and see whether that ends it: then the room needs an opening for the air that the fan blows out."

func leakRow(causes []Cause) Row {
	return Row{
		Causes: causes,
		Check:  "First, with nothing opened: are all gates shut that should be, the bin’s lid tight, every hose on its spigot? Then listen and feel along {it}.",
		Then:   "Then seal it, and enter it in the logbook.", Opens: true, It: "the trunk and the drops",
		Waits:    leakWaits,
		Clears:   leakClears,
		Cautions: atLeak,
	}
}

func sensorRow(causes []Cause) Row {
	return Row{
		Causes:   causes,
		Check:    "Look at the plug and the cable of {it}. The tool goes on by itself when it answers again.",
		It:       "the sensor",
		Waits:    "What depends on it cannot be told meanwhile; “fine” is said of nothing that hangs on it.",
		Clears:   "It clears when the channel reads again.",
		Cautions: atSensor,
	}
}
