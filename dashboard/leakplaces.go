package dashboard

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"

	"ductward/dashboard/plot"
	"ductward/internal/estimate"
	"ductward/internal/watch"
)

// mostPlaces is how many places have a chart of their own, over all collectors: a page should stay light.
const mostPlaces = 3

// leakPlaces are the likeliest places of the last day that are worth a chart, the likeliest first.
func (s *server) leakPlaces(c *watch.Collector) []estimate.Zone {
	day := lastDay(c)
	if day == nil {
		return nil
	}
	zones := slices.DeleteFunc(slices.Clone(day.Zones), func(z estimate.Zone) bool {
		return !(z.Probability >= likely) || len(z.Members) == 0 && (z.Part == "none" || z.Part == "other" || z.Part == "several")
	})
	slices.SortStableFunc(zones, func(a, b estimate.Zone) int { return cmp.Compare(b.Probability, a.Probability) })
	return zones[:min(len(zones), max(1, mostPlaces/len(s.Shop.Collectors)))]
}

// partsOf are the parts that a zone names.
func partsOf(z *estimate.Zone) []string {
	if len(z.Members) > 0 {
		return z.Members
	}
	return []string{z.Part}
}

// leakAt is what a day says of the leakage at a place: how likely it is there, and how much it is then. A day's group that shares
// a part with the place counts, since the day does not tell them apart.
func leakAt(d *estimate.Day, place *estimate.Zone) (p float64, q estimate.Value) {
	for i := range d.Zones {
		z := &d.Zones[i]
		if known(z.Probability) && slices.ContainsFunc(partsOf(z), func(part string) bool { return slices.Contains(partsOf(place), part) }) {
			if p += z.Probability; q.V == 0 || z.Probability > p/2 {
				q = z.Leakage
			}
		}
	}
	return min(p, 1), q
}

// placeCharts are the charts of single places.
func (s *server) placeCharts(rq *request, c *watch.Collector) (out []chartPart) {
	for i, z := range s.leakPlaces(c) {
		ch := s.placeChart(rq, c, &z)
		p := chartPart{Title: ch.Title, URL: "/charts/place?c=" + queryEscape(c.Name) + "&i=" + strconv.Itoa(i), Head: []string{"Day", "How likely it is there", "How much, if there"},
			Sentence: "The line is how much it is there times how likely that is; within the doubled edge the true leakage lies nine times in ten, which may be none."}
		for j := len(c.Days) - 1; j >= 0; j-- {
			d := &c.Days[j]
			if share, q := leakAt(d, &z); len(d.Zones) > 0 {
				p.Rows = append(p.Rows, []string{s.dateText(d.Date), shareText(share), s.flowText(q)})
			}
		}
		p.Still = ch.Still()
		out = append(out, p)
	}
	return out
}

// placeChart draws what each day says of the leakage at one place.
func (s *server) placeChart(rq *request, c *watch.Collector, place *estimate.Zone) *plot.Chart {
	ch := &plot.Chart{Title: "How much of it leaks in here: " + lowerFirst(newPlaceLine(place.Place).Name) + "?", Unit: s.flow.unit, Location: s.location(), Zero: true}
	line := plot.Line{Name: "Expected there", Tone: plot.Air, Band: plot.Spread}
	for i := range c.Days {
		d := &c.Days[i]
		at, ok := s.dayTime(d.Date)
		if !ok || len(d.Zones) == 0 {
			continue
		}
		p, q := leakAt(d, place)
		lo, hi := mixture(p, q)
		digits := decimals(zeroIfUnknown(q.SE) * s.flow.factor)
		line.Points = append(line.Points, plot.Point{At: at, V: roundTo(p*zeroIfUnknown(q.V)*s.flow.factor, digits), Lo: roundTo(lo*s.flow.factor, digits+1), Hi: roundTo(hi*s.flow.factor, digits+1),
			Text: fmt.Sprintf("%s likely, then %s", shareText(p), s.flowText(q))})
	}
	ch.Lines = []plot.Line{line}
	s.spanOf(ch, c.Days, rq.now)
	return ch
}

// mixture is the interval that holds nine tenths of a leak that is q with probability p, and else none: its ends are those with
// a twentieth on either side.
func mixture(p float64, q estimate.Value) (lo, hi float64) {
	half := ninety * zeroIfUnknown(q.SE)
	if p > 0.95 {
		lo = max(zeroIfUnknown(q.V)-half, 0)
	}
	if p > 0.05 {
		hi = max(zeroIfUnknown(q.V)+half, 0)
	}
	return lo, hi
}
