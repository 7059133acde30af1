// Package worth ranks what a shop could add to its sensors by what it would then see: each is drawn into a copy of the
// collector, and the information that all readings together would carry is worked out (package bound). A sensor is judged
// by the shop's own ducts, fan, filter and gates, and never by a list of merits.
//
// # What is tried
//
// The quantities that a shop file knows, where the collector has none yet: the filter's drop and the trunk's static
// pressure, velocity pressure in the trunk, the separator's drop, fan power where the curve has one, fan speed where it
// is known, the temperature and the pressure of the air; a static tap at the far end of each branch of the trunk, and in
// the trunk between its wyes; and no sensor at all, but a stretch with every gate shut, each morning or once a week. Such
// a stretch is tried only where the ducts are known to bear the suction, and named with the reason where they are not.
//
// # What a shop sees
//
// Day and Week are the smallest leaks (m³/s at the reference suction) that are found nine times of ten within one day of
// work and within five, in a place of the trunk or a drop that nobody knows beforehand, at the threshold that keeps the
// promise of false alarms. Apart is the same within a week while any drop may be blocked or cleared besides: what can be
// told from that. Stretch is how often the right stretch of the trunk is the most probable one a week after a leak of the
// size that is asked. Filter is the standard error of the log resistance of one day against the baseline, Air that of the
// log of the air at the machine that lacks most. All are bounds: what the readings could tell at best.
//
// # Rank
//
// By the mean of four shares: of the smallest leak of a week, of the one told apart from a blocked drop and of the filter's
// error, by how much each shrinks; and of the doubt about the stretch, how much of it goes (of a tenth, if it is less).
//
// The shop is taken to work as bound.Habits says; its own record may say otherwise.
package worth
