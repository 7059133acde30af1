// Package verdict says what a solved state of the duct model means for the shop: which open machine has too little air,
// in which runs dust may settle, and whether the ducts bear the suction.
//
// # What is asked of a state
//
// A machine that is open and states a need is short when less air enters its hood than it needs. A machine without a
// stated need is never short, but its dust must be carried like any other.
//
// A run is used when the air of an open machine goes through it: dust goes where the air goes, so the machines' air is
// followed from run to run in the direction in which it flows, on both ways round where a ring main parts it, and not
// past a shut gate. A used run is slow when its air is slower than what carries the dust: the shop's own transport
// velocity, or 20 m/s where the shop file states none (TRGS 553, which asks for 20 m/s in the extraction ducts of
// stationary chip-making woodworking machines; ACGIH, Industrial Ventilation, 2009, gives 15 to 20 m/s for dry dusts and
// light shavings and 20 to 23 m/s for heavy ones). The velocity is the one at the run's end towards the collector, as
// the model tells it.
//
// The suction is looked at where it is nearest to what is rated, or furthest above it.
//
// These are the model's own numbers held against a limit, without any uncertainty: a question about a drawing. How sure
// a measured shop may be that a machine is short is the estimate's question, and it has its own rule.
//
// Everything is SI: m³/s, m/s, Pa; suctions and ratings are sizes, so positive.
package verdict
