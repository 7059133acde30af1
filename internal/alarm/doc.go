// Package alarm turns findings that ask something of a person into alarms, and keeps them until a person has seen them.
//
// The words are those of IEC 62682 and OPC 10000-9. An alarm is active while its cause holds, acknowledged once a named
// person has seen it, and cleared once the cause has gone. Acknowledging does not clear, and clearing does not
// acknowledge: an alarm that came and went overnight still stands in the morning. An alarm stands until it is both
// cleared and acknowledged.
//
//	               rise                       acknowledge
//	cleared ───────────────► active, unacked ─────────────► active, acked
//	 ▲   ▲                    │         ▲  ▲                  │      │
//	 │   │               fall │    rise │  └ escalate, re-alarm┘      │
//	 │   │                    ▼         │                            │
//	 │   └── acknowledge ── cleared, unacked                         │
//	 └──────────────────────── fall ─────────────────────────────────┘
//
// A cause is "COLLECTOR/KIND/SUBJECT". There is never more than one standing alarm of one cause, whatever the
// identities of the findings behind it. A rise waits for the on-delay and a fall for the off-delay of its priority, so
// that a passing trouble raises nothing and one that comes and goes is told once. Both delays count from the civil
// times in the findings where those are known, so that a restart neither shortens nor prolongs them. An alarm that asks
// for more than was acknowledged (plan has become act today) asks again. The deadband is the finding's, which knows what it
// measures: what raises it is further off than what ends it (too little air: a probability of 0.9 against 0.5).
//
// Beside this state stand three that move it in nothing and say only whether it troubles anybody: shelved by a named person
// with a reason and an end, at which it comes back by itself; suppressed by design, as by a fan that is off; out of service
// until a named person puts it back. An alarm that asks meanwhile is told when none of them holds any more, if it is
// still active. One that has become more urgent comes off the shelf. Shelving and being out of service belong to the
// cause: an alarm that clears and rises again meanwhile is the same alarm. (ShelvedStateMachine, SuppressedState and
// OutOfServiceState of OPC 10000-9; IEC 62682 has them as states E, F and G.)
//
// A person who has looked confirms what was found and done; that too clears nothing.
//
// One cause has one alarm, and what follows from it hangs under it: a finding that names another one as what is behind it raises
// none. The other one's alarm says what follows, and asks for as much as the most urgent of all. Once what was behind it has
// ended, it is for whoever found it to say that it stands by itself.
//
// The package reads no clock and does no I/O: the caller says what time it is, stores what changed and tells people.
package alarm
