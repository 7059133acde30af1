package estimate

import (
	"time"

	"ductward/internal/journal"
)

// Version is one baseline that there has been. It is never edited: a new one takes its place, or it holds again.
type Version struct {
	Version   int
	From, To  time.Time // of its days
	GateSets  int
	MisfitRMS float64
	Stands    bool // it is the one that everything new is compared with

	Accepted, Rejected     time.Time // zero: nobody has
	AcceptedBy, RejectedBy string
}

// What an entry has asked of the baseline, to be done when the day's work is over. A number above zero is the version
// that is to hold again.
const (
	nothingAsked = 0
	newBaseline  = -1
)

// ask notes what is to become of the baseline. The last word counts.
func (e *Estimator) ask(what int) { e.asked, e.earlier = what, e.open.size() }

// versionOf returns the epoch of a version, nil if there has been none.
func (e *Estimator) versionOf(n int) *epoch {
	if n < 1 || n > len(e.epochs) {
		return nil
	}
	return e.epochs[n-1]
}

// acceptVersion notes that a person has looked at a baseline. It held before and holds on.
func (e *Estimator) acceptVersion(j journal.Entry) {
	if ep := e.versionOf(j.Version()); ep != nil {
		v := &ep.version
		v.Accepted, v.AcceptedBy, v.Rejected, v.RejectedBy = j.Time, j.By, time.Time{}, ""
	}
}

// rejectVersion notes that a baseline is not to hold. The one that held before it holds again; if there is none, another
// is taken. Without a number the one in the making is meant.
func (e *Estimator) rejectVersion(j journal.Entry) {
	n := j.Version()
	if n == 0 {
		e.giveUp()
		return
	}
	ep := e.versionOf(n)
	if ep == nil {
		return
	}
	v := &ep.version
	v.Rejected, v.RejectedBy, v.Accepted, v.AcceptedBy = j.Time, j.By, time.Time{}, ""
	if e.cal == nil || e.cal.version != n {
		return
	}
	if back := e.fallback(); back > 0 {
		e.ask(back)
	} else {
		e.ask(newBaseline)
	}
}

// giveUp ends the baseline in the making, or the wish for one.
func (e *Estimator) giveUp() {
	switch back := e.fallback(); {
	case e.cal != nil: // none is in the making yet
		e.asked = nothingAsked
	case back > 0:
		e.ask(back)
	}
}

// restoreVersion lets an older baseline hold again, though it may have been rejected.
func (e *Estimator) restoreVersion(n int) {
	ep := e.versionOf(n)
	if ep == nil {
		return
	}
	ep.version.Rejected, ep.version.RejectedBy = time.Time{}, ""
	switch {
	case e.cal != nil && e.cal.version == n:
		e.asked = nothingAsked
	default:
		e.ask(n)
	}
}

// fallback returns the version that held last and was not rejected, the one that stands aside; 0 if there is none.
func (e *Estimator) fallback() int {
	for i := len(e.stood) - 1; i >= 0; i-- {
		n := e.stood[i]
		if (e.cal == nil || e.cal.version != n) && e.epochs[n-1].version.Rejected.IsZero() {
			return n
		}
	}
	return 0
}

// renew does what was asked of the baseline.
func (e *Estimator) renew(what int) {
	if what > 0 {
		e.returnTo(what)
	} else {
		e.supersede()
	}
}

// versions returns all baselines that there have been, oldest first.
func (e *Estimator) versions() []Version {
	var out []Version
	for _, ep := range e.epochs {
		v := ep.version
		v.Stands = e.cal == ep.cal
		out = append(out, v)
	}
	return out
}
