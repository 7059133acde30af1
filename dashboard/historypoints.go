package dashboard

import (
	"fmt"
	"math"
	"net/url"
	"time"

	"ductward/dashboard/plot"
)

// Pauses over which a line goes on. A sensor whose fan rests is kept once a minute; a switch is told again every quarter
// of an hour, and holds until then.
const (
	restPause   = 90 * time.Second
	switchPause = 31 * time.Minute
	shortest    = 2 * time.Second // no closer look than this
)

// bucketsFor is into how many buckets a span is cut for a channel: no finer than it is read, so that what lies between
// two readings is not taken for a gap.
func bucketsFor(c channel, v span) int {
	n := defaultBuckets
	if c.every > 0 {
		n = min(n, int(v.to.Sub(v.from)/c.every))
	}
	return max(n, 1)
}

// pause is over how long a silence a channel's line goes on.
func (c channel) pause() time.Duration {
	if c.measure == switchMeasure {
		return switchPause
	}
	return max(restPause, 3*c.every)
}

// points makes a line of buckets. Between two that hold readings there is a gap only where the channel was silent for
// longer than it ever is when all is well.
func points(c channel, buckets []Bucket) []plot.Point {
	var out []plot.Point
	var last time.Time
	for _, b := range buckets {
		if b.N == 0 {
			continue
		}
		if !last.IsZero() && b.Start.Sub(last) > c.pause() {
			out = append(out, plot.Point{At: last.Add(b.Start.Sub(last) / 2), V: math.NaN()})
		}
		last = b.End
		out = append(out, pointOf(c, b))
	}
	return out
}

// pointOf is the middle of a bucket with its range. What is not known from here on is a gap.
func pointOf(c channel, b Bucket) plot.Point {
	p := plot.Point{At: b.Start.Add(b.End.Sub(b.Start) / 2), V: math.NaN()}
	if known(b.Mean) {
		p.V, p.Lo, p.Hi = c.shown(b.Mean), c.shown(b.Min), c.shown(b.Max)
		p.Text = c.show(b.Mean) + " (" + c.show(b.Min) + " to " + c.show(b.Max) + ")"
	}
	return p
}

// holdOn lets a switch stand where it stood before the span began, and where it stands when the span ends.
func (s *server) holdOn(c channel, v span, buckets []Bucket, points []plot.Point) ([]plot.Point, error) {
	const slots = 31 // a minute each
	before, err := s.Readings.Chart(c.Name, v.from.Add(-switchPause), v.from, slots)
	if err != nil {
		return nil, fmt.Errorf("record of %q: %w", c.Name, err)
	}
	if was, ok := lastOf(before); ok {
		first := pointOf(c, was)
		first.At = v.from
		points = append([]plot.Point{first}, points...)
	}
	last, ok := lastOf(append(before, buckets...))
	end := v.to
	if now := s.Clock.Now(); now.Before(end) {
		end = now
	}
	if n := len(points); n > 0 && points[n-1].At.After(end) {
		points = points[:n-1] // the middle of the bucket that goes on
	}
	if ok && end.Sub(last.End) <= switchPause && !end.Before(last.Start) {
		p := pointOf(c, last)
		p.At = end
		points = append(points, p)
	}
	return points, nil
}

// lastOf is the last bucket that holds anything.
func lastOf(buckets []Bucket) (Bucket, bool) {
	for i := len(buckets) - 1; i >= 0; i-- {
		if buckets[i].N > 0 {
			return buckets[i], true
		}
	}
	return Bucket{}, false
}

// zoomBase is the address to which the page's script adds the span that was chosen in a chart.
func (s *server) zoomBase(v span) string {
	q := url.Values{}
	for _, c := range v.channels {
		q.Add("ch", c.Name)
	}
	return "/history?" + q.Encode()
}
