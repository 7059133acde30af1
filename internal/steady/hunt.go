package steady

import "time"

// CutAfter lets a stretch with the fan on end as a run when its air has been steady for d, though nothing moved: while a
// leak hunt goes on, its test is then known before the next gate is touched. 0 lets it go on as usual. It must be told at
// the same place of the readings' order in a rebuild.
func (f *Folder) CutAfter(d time.Duration) { f.cutAfter = d }

// Standing returns for how long the air has been steady with the fan on and the gates as they are, through cuts, what is
// held back left out; 0 while it is not.
func (f *Folder) Standing() time.Duration {
	if !f.seen || !f.fan.known || f.fan.value != 1 {
		return 0
	}
	return max(f.lastMono-f.hold-f.settled, 0)
}

// tooLong tells whether the stretch is to be cut at mono.
func (f *Folder) tooLong(mono time.Duration) bool {
	if f.cutAfter > 0 && f.fan.known && f.fan.value == 1 && f.steady(mono) >= f.cutAfter+f.hold {
		return true
	}
	return mono-f.begun >= longest
}
