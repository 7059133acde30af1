package estimate

import (
	"fmt"
	"math"

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
		w.confusable = append(w.confusable, "a scale whose zero has moved, or wet chips")
		e.contact(finding.BinFull, r, steady.Closes(s.Mean, x.Full), w)
	}
}

// contactWords is what is said of a contact that is closed.
type contactWords struct {
	text, action, evidence string
	confusable             []string
	size                   float64
	unit                   string
}

func (e *Estimator) fullWords(evidence string) contactWords {
	return contactWords{
		text: fmt.Sprintf("The bin of %s is full: %s. From now on chips and dust go past the separator into the filter, which then loads several times faster than usual.", e.collector.Name, evidence),
		action: "Stop the machines and empty the bin. Isolate and lock out the fan before the bin or its lid is opened, and see that the lid seals again: a leak there looks like a loading filter. " +
			"If the bin is not full, look for chips that bridge above it and for dust on its switch.",
		evidence:   evidence,
		confusable: []string{"chips that bridge in the bin or in the separator’s outlet", "dust that sticks to the switch, or something that leans on the bin"},
		size:       math.NaN(),
	}
}

func (e *Estimator) returnWords(c *shop.Contact) contactWords {
	return contactWords{
		text: fmt.Sprintf("Dust is told in the air that %s returns to the room: %s has been closed for half a minute while the fan runs. A filter element may be torn, or not sealed.", e.collector.Name, c.Name),
		action: "Stop work that makes dust, and lead the air outdoors where there is a flap for it. With the fan isolated and locked out, look at every filter element and its seal. " +
			"If they are whole, clean the monitor as its maker says.",
		evidence: "contact " + c.Name,
		confusable: []string{"filter elements that are new or just cleaned, which let dust through until a cake has built up",
			"dust that was left on the clean side when the filter was last opened", "a monitor that is dirty or set too fine"},
		size: math.NaN(),
	}
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
	f := finding.Finding{Collector: e.collector.Name, Kind: kind, Subject: channel, Priority: finding.ActToday, Raised: r.At,
		Size: w.size, SizeLow: w.size, SizeHigh: w.size, SizeUnit: w.unit, Confidence: contactTrust,
		ConfusableWith: w.confusable, Text: w.text, Action: w.action, Evidence: w.evidence}
	if !r.At.IsZero() {
		f.Onset = r.At.Add(r.Start - r.End)
	}
	f.OnsetLow, f.OnsetHigh = f.Onset, f.Onset
	f.ID = e.newID(kind, channel, f.Onset)
	e.findings = append(e.findings, f)
}
