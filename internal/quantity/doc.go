// Package quantity turns the quantities that people write, such as "160 mm", "500 cfm" or "4.2 inH2O", into SI numbers,
// and SI numbers back into text with as many digits as their spread supports.
//
// It is the one place where units exist. Everything else in the project counts in m, m², m³, m³/s, Pa, K, m/s, kg/m³,
// s, rad, W, Hz and plain ratios. A quantity without a unit is an error, and the error lists what is accepted.
//
// Factors are exact by definition, or full-precision products of exact ones; each carries its definition in units.go.
// Where a unit has more than one definition in use (inch of water, horsepower), the one taken is stated there.
package quantity
