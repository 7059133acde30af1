package dashboard

import (
	"ductward/internal/alarm"
	"ductward/internal/finding"
)

// asking keeps what asks something of a person now.
func asking(f *finding.Finding) bool { return f.Active() && f.Priority != finding.Journal }

// aside are the alarms that trouble nobody just now, by their cause and by the finding that they speak of: shelved, out of
// service, suppressed by design.
type aside map[string]alarm.Alarm

func (s *server) held() aside {
	out := aside{}
	for _, a := range s.Alarms.List() {
		if a.Held() {
			out[a.Cause], out[a.Finding] = a, a
		}
	}
	return out
}

func (h aside) has(f *finding.Finding) bool {
	_, ok := h[alarm.Cause(f)]
	if _, under := h[f.Under]; under && f.Under != "" { // it has no alarm of its own
		return true
	}
	return ok
}

// quiets tells whether being put aside takes a finding out of the state of the plant.
func (h aside) quiets(f *finding.Finding) bool { return f.Priority != finding.Instrument && h.has(f) }

// asks keeps what asks something of a person now and is not put aside.
func (h aside) asks(f *finding.Finding) bool { return asking(f) && !h.has(f) }

// holds keeps what would ask, were it not put aside.
func (h aside) holds(f *finding.Finding) bool { return asking(f) && h.has(f) }
