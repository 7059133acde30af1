// Package compare holds two drawings of one shop against each other: for sets of open machines, who gets more air in the
// second drawing than in the first and who less, who is short in one and not in the other, in which runs dust may settle
// in one and not in the other, and what the fan does.
//
// Parts of the two drawings are the same part when they have the same name, or when one has the other's name among its
// earlier ones ("was"). What is in one drawing only is told, and stays shut in the comparison.
//
// The sets are those that are asked for, or else each machine alone, each pair of machines that can be open together in
// both drawings, and as many as possible together, all of machines that both drawings have. A machine that only one
// drawing has is solved alone there.
//
// Both drawings are solved in the same state of filter and fan speed; a collector that changed its filter or fan
// changed it in the drawing. Verdicts are those of package verdict. Everything is SI.
package compare
