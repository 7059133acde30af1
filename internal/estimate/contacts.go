package estimate

import (
	"fmt"
	"math"

	"ductward/internal/diagnosis"
	"ductward/internal/finding"
	"ductward/internal/shop"
	"ductward/internal/steady"
)

// contactTrust is the probability that a contact which has stood for its time means what it is there for; common practice,
// no source.
const contactTrust = 0.9

// contactRun takes a run of kind Contact. Contacts and scales say what no pressure says in time: a full bin changes nothing
// until the filter loads several times faster than usual, and a small tear moves the drop by less than is seen.
func (e *Estimator) contactRun(r *steady.Run) {
	if len(r.Channels) != 1 {
		return
	}
	s := &r.Channels[0]
	for _, c := range e.collector.Contacts {
		if shop.ContactChannel(c.Name) != s.Channel {
			continue
		}
		if c.Tells == shop.DustInReturn {
			e.contact(finding.DustInReturn, r, s.Mean == 1, e.returnWords(c))
		} else {
			e.contact(finding.BinFull, r, s.Mean == 1, e.fullWords("its switch "+c.Name+" is closed"))
		}
	}
	for _, x := range e.collector.Sensors {
		if x.Measures != shop.BinWeight || e.collector.ChannelOf(x.Name) != s.Channel {
			continue
		}
		w := e.fullWords(fmt.Sprintf("%s reads %.0f kg, and it is full at %.0f kg", x.Name, s.Mean, x.Full))
		w.size, w.unit = s.Mean, "kg"
		e.contact(finding.BinFull, r, steady.Closes(s.Mean, x.Full), w)
	}
}

// contactWords is what is said of a contact that is closed.
type contactWords struct {
	text, evidence string
	size           float64
	unit           string
}

func (e *Estimator) fullWords(evidence string) contactWords {
	return contactWords{evidence: evidence, size: math.NaN(),
		text: fmt.Sprintf("The bin of %s is full: %s. From now on chips and dust go past the separator into the filter, which then loads several times faster than usual.", e.collector.Name, evidence)}
}

func (e *Estimator) returnWords(c *shop.Contact) contactWords {
	return contactWords{evidence: "contact " + c.Name, size: math.NaN(),
		text: fmt.Sprintf("Dust is told in the air that %s returns to the room: %s has been closed for half a minute while the fan runs. A filter element may be torn, or not sealed.", e.collector.Name, c.Name)}
}

// contact raises the finding of a contact that has closed, and ends that of one that has opened.
func (e *Estimator) contact(kind finding.Kind, r *steady.Run, closed bool, w contactWords) {
	channel := r.Channels[0].Channel
	if !closed {
		e.endFault(kind, channel, r.At)
		return
	}
	if e.standing(kind, channel) != nil {
		return
	}
	row := diagnosis.Of(kind)
	f := finding.Finding{Collector: e.collector.Name, Kind: kind, Subject: channel, Priority: finding.ActToday, Raised: r.At,
		Size: w.size, SizeLow: w.size, SizeHigh: w.size, SizeUnit: w.unit, Confidence: contactTrust,
		ConfusableWith: row.Others(), Text: w.text, Action: row.Action(""), Evidence: w.evidence}
	if !r.At.IsZero() {
		f.Onset = r.At.Add(r.Start - r.End)
	}
	f.OnsetLow, f.OnsetHigh = f.Onset, f.Onset
	f.ID = e.newID(kind, channel, f.Onset)
	e.findings = append(e.findings, f)
}
