// Package shop holds the owner's description of a workshop's dust extraction: what is built, what it must do, where the
// sensors sit and where the positions of the gates come from.
//
// The words are those of the trade. A collector is a fan with its separator and filter; a hood is where a machine's
// dust enters; a run is a stretch of one diameter and one material with its fittings; a drop is the branch of one
// machine; the trunk is what the drops join; a gate is the slide that shuts a drop; a selector joins one of several
// ports to its outlet (a moved hose is a selector whose ports are machines); a stub is a capped end kept for a machine
// to come.
//
// Air always flows along a run from From to To, from the machines towards the collector; a negative flow in a result
// runs the other way. All numbers are SI: m, m², m³/s, Pa, K, kg/m³, W, s, rad. Pressures are gauge, duct minus room,
// so suction is negative; a filter drop is dirty minus clean and positive. Units exist in the file only, and are
// converted once, when it is read.
//
// The package does no physics: it reads, checks and names things. A number that the owner did not give is NaN in a
// float64 field unless the field's comment states a default.
//
// # The file
//
// A shop file is YAML with keys in the trade's words. Each quantity carries its unit; a bare number is read only for
// what has none. hardware/rig/shop.yaml is a complete example with comments. These are all keys; "a | b" is a choice,
// "(x)" the default, * what must be given.
//
//	shop*               name of the workshop
//	site                altitude (0 m), temperature (20 degC), humidity (50 %), time_zone (UTC), units of screens (metric)
//	collectors*         a list, one entry for each fan:
//	  collector*        its name; was: earlier names, as for every part that keeps a history
//	  fan               position* after filter | before filter; density (1.2 kg/m3), speed,
//	                    curve: list of {flow*, pressure*, power | efficiency} with between: straight lines | smooth,
//	                    or coefficients: {pressure*, flow*, values*}, the units and c0, c1, … of p = Σ c·Q^i;
//	                    running: speed | drive: {at*, plate*} (the curve's speed), efficiency, motor_efficiency,
//	                    inlet: {diameter*, loss* | elbow*: smooth | gored | mitred | square with straight*, radius*,
//	                    pieces*}
//	  separator         none, or name, loss*: {drop*, flow*}, density (1.2 kg/m3)
//	  filter            area, clean: {drop*, flow*}, housing (0 Pa), limit: a pressure or {drop*, flow}
//	  discharge         room, or diameter*, length (0 m), material | roughness, loss (1)
//	  rating            the largest suction that the ducts may bear
//	  transport_velocity (20 m/s)
//	  machines          list of machine*, needs, was
//	  gates             list of gate*, open_loss (0.05) | kind: (full bore) | framed with bore* | butterfly and
//	                    opens (100 %), seat_leak (0 m3/h; at 1500 Pa) | {leak*, at*, exponent (0.65)}, position, was
//	  selectors         list of selector*, hose: [machines] or ports: [runs], seat_leak, position, was
//	  ducts             material (galvanised spiral) and tightness (A) for all runs, wyes: (momentum) | handbook, and
//	    runs*           list of run*, from: machine | junction | selector | stub, to*: run | junction | selector |
//	                    collector, diameter*, length*, material | roughness, stretch (1): factor | share, gate, tightness,
//	                    hole, rating, was
//	      fittings      list, by the way of the air, each with what: words and times (1):
//	                    elbow: angle, with make* smooth | gored | mitred | hose, radius*, pieces*, and
//	                    after: {straight*, turns*: same way | back | aside} where another elbow is right before it
//	                    entry: plain | flanged | bellmouth with radius (a fifth of the diameter or more) | orifice with
//	                    bore*
//	                    contraction: {from*, angle*}    expansion: {to*, angle*}
//	                    screen: free area    loss: coefficient    measured: {drop*, flow*}
//	    junctions       list of junction*, kind* lossless | wye | tee | splitter, for a wye angle*, straight*, branch*,
//	                    swept (0), for a tee the same without angle, for a splitter angle*, legs*
//	    stubs           list of stub*
//	  sensors           list of sensor*, measures*, at: run | inlet | fan, tap: (end) | start, diameter, interval (1 s),
//	                    full*: of a bin weight, from*, was
//	  contacts          list of contact*, tells*: bin full | dust in return, from*: a source of one switch, was
//	  fan_running       a source
//	  alarms            reference_suction (1500 Pa), false_alarms_per_year (1), filter_notice (10 days),
//	                    leak_to_tell (0 m3/h)
//	outbound            mqtt: {broker*, prefix (ductward), client_id, username, password_file or password_env, ca_file},
//	                    webhooks: {webhook*, url*, secret_file or secret_env*, ca_file},
//	                    mail: {server*: host:port (587, or 465 with tls), encryption: (starttls) | tls | none, username,
//	                    password_file or password_env, ca_file, from*, to*}, syslog: {collector*: udp, tcp or
//	                    tls://host:port (514, 6514), ca_file}, quiet_hours: {from, to: times of day, days: of the week},
//	                    daily ("07:30"), weekly: {day (monday), at ("07:30")}, give_up_after (3 days)
//	checks              check*, every*: day, week, month, year or "14 months", asked_by
//	buses               list of bus*: an I²C bus, power*: the pin that switches the supply of its parts,
//	                    active: (high) | low, off_for (2 s), at_most_every (1 h)
//	prices              currency*, pipe: a metre, elbow, wye, reducer, gate, entry: each; all a number or {size: number},
//	                    sealing: a square metre of duct, media: one of filter,
//	                    labour: {pipe (0): a metre, piece (0): each, sealing (0): a square metre}
//
// A source (from, position, fan_running) is one of
//
//	{i2c*: bus, chip*: sdp8xx | sdp3x | adp810 | abp2 | hsc | dlh, address*, span*,
//	 one_sided (no), swapped (no), mux and port: of the multiplexer that it is behind}   sensors
//	{i2c*: bus, chip*: bme280, address*, mux and port}                                   the room's air
//	{i2c*: bus, chip*: ads1115, address*, input*, signal*: 4-20 mA | 0-10 V | 0-5 V,     sensors; the fan
//	 burden*: of a current, divider (1): of a voltage, low*, high*, mux and port}         by on_above*, without low, high
//	{gpio*: pin, active: (high) | low, debounce (50 ms),                                 gates, the fan, contacts;
//	 shut: pin of a second contact, at the shut end}                                     gates; selectors by gpio: [pins]
//	{modbus*: rtu:///dev/… or tcp://host:port, station*, input_register or               sensors
//	 holding_register: number from 0, as*: int16 | uint16 | int32 | uint32 | float32,
//	 words: (high first) | low first, factor (1), unit*; baud (19200) and
//	 parity: (even) | odd | none of a serial line}
//	{modbus*: …, station*, discrete_input or coil: number from 0}                         gates and the fan
//	{mqtt*: topic, field, unit, stale (30 s)}                                            all; sensors need the unit
//	by hand                                                                              all but the fan
//	always open | always shut                                                            gates
//
// A tightness is a class A to D of EN 12237 and EN 1507 ("ATC 5" to "ATC 2" of EN 16798-3), "SMACNA A" to "SMACNA C",
// "SMACNA flexible", "CL 12" and the like of SMACNA, none, or {leak*, at*, exponent (0.65)}.
// Materials lists what material may be; measures is one of filter drop, static pressure, velocity pressure,
// air temperature, barometric pressure, relative humidity, fan power, fan speed, separator drop
// and bin weight.
package shop
