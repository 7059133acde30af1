package diagnosis

// Cause is one thing that may be behind a finding.
type Cause struct {
	Text  string `json:"cause"`
	Signs Signs  `json:"signs,omitzero"`
	Told  string `json:"told_by"` // what parts it from others that show alike
}

// The causes, each once: several findings share some.
var (
	loaded = Cause{"the filter is loaded with dust", loads,
		"It comes slowly, in every set of gates, and steps back at a cleaning."}
	damp = Cause{"the filter’s media is damp or blinded", loads,
		"It comes fast, on damp days or with cold dust, or what a cleaning leaves behind keeps rising."}
	shortCleaning = Cause{"the last cleanings were cut short", loads,
		"A longer one brings it back."}
	binFull = Cause{"the bin is full, and dust passes on to the filter", loads,
		"Nothing shows until then; the filter then loads several times faster than usual."}
	moreDust = Cause{"more dust comes than usual, or finer: long sanding, another wood", loads,
		"It began with that work, and ends with it."}
	binLid = Cause{"air enters at the bin’s lid or the separator", draws,
		"The fan’s power rises, where it falls with a loaded filter. Often right after the bin was emptied."}

	bridged = Cause{"chips bridge above the bin or in the separator’s outlet", Signs{},
		"The bin is not full when one looks."}
	binTold = Cause{"dust lies on the switch, something leans on the bin, or the scale’s zero has moved", Signs{},
		"It stays when the bin has been emptied."}
	freshMedia = Cause{"filter elements that are new or just cleaned let dust through until a cake has built up", Signs{},
		"It is gone after some hours of work."}
	cleanSide = Cause{"dust was left on the clean side when the filter was last opened", Signs{},
		"It began with the first start after that, and fades."}
	dimMonitor = Cause{"the dust monitor is dirty or set too fine", Signs{},
		"Every element is whole and well seated."}

	cleaned = Cause{"the filter was cleaned", passes,
		"A step down to about where cleanings have left it before, and then it loads again."}
	newMedia = Cause{"the filter was replaced, and the logbook does not have it", passes,
		"A step down below all cleanings before; the new media seasons within weeks."}
	torn = Cause{"the media is torn, sits badly, or air passes beside it", passes,
		"A step down below all cleanings before that does not load again; dust on the clean side or in the room. A small tear is seen in little air alone, with every gate shut, where the drop falls by far more than with much."}
	housingHole = Cause{"the dirty housing has a hole, where the filter stands after the fan", Signs{},
		"No pressure parts it from a tear; dust lies outside the housing."}

	seam = Cause{"a seam or a joint of the duct leaks", opens,
		"It shows in every set of gates that pulls on that stretch. Over months: a seam; at once: a joint that came apart."}
	seat = Cause{"a shut gate lets air past its seat", opens,
		"It vanishes in the sets of gates that open it anyway, and is no more than that drop can draw."}
	gateOpen = Cause{"a gate stands open, or a little open", opens,
		"It comes and goes within the day, and its size is that of the drop."}
	hoseOff = Cause{"the hose or the hood of an open machine has come off or is torn", opens,
		"It shows only while that machine’s gate is open."}
	changedHood = Cause{"the hose or the hood was changed for one that lets the air through more easily", opens,
		"It shows only while that gate is open, and somebody knows of it."}

	sealed = Cause{"the leak was sealed, or closed by itself", resists,
		"In every set of gates in which the leak was seen."}

	plugged = Cause{"chips lie in the drop or at the hood", resists,
		"It shows only in the sets of gates that open this drop."}
	halfShut = Cause{"the gate is not fully open", resists,
		"It shows only in the sets of gates that open this drop, and comes and goes with how the gate was pulled."}
	shutTold = Cause{"a gate is shut that is told open", resists,
		"It comes at once and wholly, between two uses, and is gone at the next use of that machine."}
	squashed = Cause{"the hose is squashed, kinked or longer than it was", resists,
		"It shows only in the sets of gates that open this drop; a step, often after the machine was moved."}
	trunkPlugged = Cause{"chips have settled in the trunk", chokes,
		"It shows in every set of gates that uses that stretch, and in no other."}
	collapsed = Cause{"the duct has been sucked in", chokes,
		"As chips in the trunk, but at once, and at a start with few gates open."}

	slow = Cause{"the fan turns more slowly: belt, drive, voltage", weakens,
		"All pressures fall in one proportion, power by more than any of them; suction at the fan’s inlet falls too."}
	caked = Cause{"the fan’s wheel is worn or caked", weakens,
		"As a slow fan, at the right speed; it may shake."}
	pluggedBehind = Cause{"something lies between the tap and the fan, or before the outlet", weakens,
		"As a slow fan, but suction at the fan’s inlet rises if it lies before the fan."}
	reversed = Cause{"the fan turns the wrong way", reverses,
		"Air still flows the right way, about half of it; right after work on the wiring. The current does not rule it out."}
	noMakeUp = Cause{"the room has too little air to draw from", weakens,
		"It is gone when a door is opened, where the air is blown outdoors."}

	slips = Cause{"the drive slips between the wheel and what counts its turns", weakens,
		"As something in the way, but the power falls by more."}
	cleanSideLeak = Cause{"air enters between filter and fan", Signs{},
		"Nearly as something in the way; one hears it, and no dust comes of it."}
	pickUp = Cause{"what picks up the fan’s power or turns has moved, or counts another part", Signs{},
		"It alone reads another share of what it did; the pressures go on together."}

	needTooHigh = Cause{"the shop file asks for more air than the machine needs", Signs{},
		"The dust is captured all the same."}
	fewOpen = Cause{"too few gates are open for so wide a run", Signs{},
		"The air in that run is faster with a second gate open."}

	drifted = Cause{"the sensor’s zero has drifted", Signs{},
		"The same offset with the fan on and off."}
	water = Cause{"water stands in a tube", Signs{},
		"An offset by as much as the water stands high; after cold nights; at a low point of the tube."}
	tubeOff = Cause{"a tube is off, split or kinked", Signs{},
		"One channel alone steps, by more than any fault of the ducts would move it."}
	tapPlugged = Cause{"dust plugs the tap or its tube", Signs{},
		"One channel alone gets slow and quiet, and does not come back to zero when the fan stops."}
	moved = Cause{"the sensor or its tap was changed", Signs{},
		"One channel alone reads a constant share of what it did; somebody knows of it."}
	otherFan = Cause{"another fan runs on the same ducts, or wind stands on the outlet", Signs{},
		"The reading comes back by itself; other sensors with the fan off show it too."}
	cable = Cause{"a plug or a cable has come loose", Signs{},
		"The channel comes and goes when the cable is moved."}
	latched = Cause{"the part has latched up or is broken", Signs{},
		"It repeats one value exactly, or stays at the end of its range; it may answer again after its power was off."}
	busStuck = Cause{"another part holds the bus", Signs{},
		"Several channels of one bus are silent together."}

	cardWorn     = Cause{"the memory card wears out", Signs{}, "It comes again after it was mended."}
	powerCut     = Cause{"the power failed while it was written", Signs{}, "It came with a start of the board."}
	cardFull     = Cause{"the disk is full", Signs{}, "Room on it was short before."}
	receiverAway = Cause{"the other end does not run, or refuses", Signs{}, "Its own log says so."}
	lineDown     = Cause{"the network is down", Signs{}, "Others cannot reach it either."}
	wrongSecret  = Cause{"a password or a key has changed", Signs{}, "The answer names it; it stays so whatever the network does."}
)
