package dashboard

import (
	"fmt"
	"strings"
	"time"

	"ductward/internal/finding"
)

// proper begins a sentence with a capital and writes quantities as the rest of the page does.
func (s units) proper(text string) string {
	return capital(strings.ReplaceAll(s.words(text), "m3/", "m³/"))
}

// maxPlaces is how many candidates one finding names; those are the likeliest, since they come in that order.
const maxPlaces = 6

// restOf sums up the candidates that are not named one by one.
func restOf(places []finding.Place) placeLine {
	sum := 0.0
	for _, p := range places {
		sum += zeroIfUnknown(p.Probability)
	}
	return placeLine{Name: fmt.Sprintf("In %s that %s less likely", count(len(places), "other place"), plural(len(places), "is", "are")), Percent: shareText(sum), Share: sum}
}

// newPlaceLine puts one candidate into words.
func newPlaceLine(p finding.Place) placeLine {
	l := placeLine{Name: capital(partName(p.Part)), Share: p.Probability, Percent: shareText(p.Probability)}
	if len(p.Members) > 0 {
		l.Name, l.Members = capital(groupName(p.Members)), "cannot be told apart"
	}
	return l
}

// shareText writes a probability as people weigh it: nothing is certain, and one in a hundred is as fine as it goes.
func shareText(p float64) string {
	switch {
	case !known(p):
		return unknown
	case p > 0.99:
		return "over 99 %"
	case p < 0.01:
		return "under 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

// sizeText says how large it is with the interval in which it lies.
func (s units) sizeText(f *finding.Finding) string {
	if !known(f.Size) {
		return ""
	}
	factor, unit := s.sizeUnit(f)
	if !known(f.SizeLow) || !known(f.SizeHigh) || f.SizeHigh <= f.SizeLow {
		return join(plain(f.Size*factor), unit)
	}
	d := decimals((f.SizeHigh - f.SizeLow) * factor / 2)
	text := "about " + join(fixed(f.Size*factor, d), unit) + ", between " + fixed(f.SizeLow*factor, d) + " and " +
		join(fixed(f.SizeHigh*factor, d), unit)
	if f.Confidence > 0 && f.Confidence < 1 {
		text += fmt.Sprintf(" (%s)", oddsText(f.Confidence))
	}
	return text
}

// oddsText says how often such an interval holds the truth: "9 times in 10".
func oddsText(confidence float64) string {
	tenths := confidence * 10
	if r := float64(int(tenths + 0.5)); tenths-r < 0.02 && r-tenths < 0.02 && r < 10 {
		return fmt.Sprintf("%d times in 10", int(r))
	}
	return fmt.Sprintf("%.0f times in 100", confidence*100)
}

// sizeUnit says in which unit a finding's size is shown.
func (s units) sizeUnit(f *finding.Finding) (float64, string) {
	switch f.SizeUnit {
	case "m3/s":
		return s.flow.factor, s.flow.unit
	case "m3/s per day":
		return s.flow.factor, s.flow.unit + " a day"
	case "m3/s/month", "m3/s per month":
		return s.flow.factor, s.flow.unit + " a month"
	case "Pa":
		return s.pressure.factor, s.pressure.unit
	case "m/s":
		return s.velocity.factor, s.velocity.unit
	case "1":
		return 100, "%"
	case "d":
		return 1, "days"
	}
	return 1, f.SizeUnit
}

// sinceText says since when it has been so, and how sure that is.
func (s *server) sinceText(f *finding.Finding, now time.Time) string {
	switch {
	case f.Onset.IsZero() && f.OnsetLow.IsZero():
		return ""
	case f.OnsetLow.IsZero() || f.OnsetHigh.IsZero():
		return s.moment(f.Onset, now)
	}
	a, b := s.day(f.OnsetLow, now), s.day(f.OnsetHigh, now)
	if a == b {
		return a
	}
	if f.Onset.IsZero() {
		return "between " + a + " and " + b
	}
	return "about " + s.day(f.Onset, now) + " (between " + a + " and " + b + ")"
}
