package estimate

import (
	"fmt"
	"math"
	"slices"
	"time"

	"ductward/internal/detect"
	"ductward/internal/diagnosis"
	"ductward/internal/finding"
)

// Where a room is short of air, the fan loses pressure when the doors are shut and has it back when one is opened, within a day.
// A mean of both would pass for something else: the stretch is taken out of its day, and told.
const (
	lullLeast = 0.03 // of the log of the pressure that is left, at least: less is the mains or a draught
	lullClear = 60.0 // of the stretch's chi-square that the fan's loss must explain
	lullShare = 0.8  // and as a share of it: what is left is nothing else's
	lullRuns  = 3
	lullAfter = 2 // runs of the day that show it back
	lullOver  = 5 // days of work without one after which it is over
)

// lull is what is followed of stretches in which the fan lost pressure and had it back.
type lull struct {
	id     string // of the finding; "": none stands
	days   int    // on which there was one
	absent int    // days in a row without
	today  *lullStretch
}

// lullStretch is one of them: the runs from one to before another.
type lullStretch struct {
	from, to int
	col      int
	size     Value // of the column
	chi      float64
	at, over time.Time
}

// sums of a column over runs: of its squares, of its products with the readings, and of the readings' squares.
type lullSums struct{ xx, xy, yy float64 }

func (s lullSums) plus(o lullSums, k float64) lullSums {
	return lullSums{s.xx + k*o.xx, s.xy + k*o.xy, s.yy + k*o.yy}
}

// stands tells whether a column is as it should be.
func (s lullSums) stands() bool { return s.xx > 0 && math.Abs(s.xy) <= lullLeast/2*s.xx }

// cutLull takes a stretch out of a day in whose midst the fan lost pressure and had it back.
func (e *Estimator) cutLull(d *dayData, x0 []float64) {
	e.lull.today = nil
	if !e.isOdd(d) || e.faint() {
		return
	}
	rows := make([]linear, len(d.obs))
	for i := range d.obs {
		rows[i], _ = e.row(&d.obs[i], x0, d.filter[d.obs[i].part].V)
	}
	var best *lullStretch
	for _, col := range e.lullColumns() {
		if s := findLull(rows, col); s != nil && (best == nil || s.chi > best.chi) {
			best = s
		}
	}
	if best == nil {
		return
	}
	rest := *d
	rest.obs, rest.filter = slices.Delete(slices.Clone(d.obs), best.from, best.to), nil
	e.splitAtCleanings(&rest)
	if !e.fitDay(&rest, x0, e.filter.expect(e, d)) || e.isOdd(&rest) && rest.innovation > d.innovation/2 {
		return
	}
	first, last := d.obs[best.from].run, d.obs[best.to-1].run
	best.at, best.over = first.At.Add(first.Start-first.End), last.At
	e.lull.today = best
	*d = rest
}

// lullColumns are the ways in which a fan loses pressure.
func (e *Estimator) lullColumns() []int {
	var out []int
	for col := e.cols.fan; col < e.cols.gain0; col++ {
		out = append(out, col)
	}
	return out
}

// findLull finds the stretch of a day that ends before the day does and in which a column has fallen most surely, while
// it stands as it should in the rest; nil where there is none.
func findLull(rows []linear, col int) *lullStretch {
	upTo := make([]lullSums, len(rows)+1)
	for i := range rows {
		upTo[i+1] = upTo[i]
		for r, y := range rows[i].y {
			x := rows[i].x[r][col]
			upTo[i+1] = upTo[i+1].plus(lullSums{x * x, x * y, y * y}, 1)
		}
	}
	all := upTo[len(rows)]
	var best *lullStretch
	for from := range rows {
		for to := from + lullRuns; to <= len(rows)-lullAfter; to++ {
			in := upTo[to].plus(upTo[from], -1)
			chi := in.xy * in.xy / in.xx
			if !(in.xx > 0) || in.xy > -lullLeast*in.xx || chi < lullClear || chi < lullShare*in.yy {
				continue
			}
			if !all.plus(in, -1).stands() || !all.plus(upTo[to], -1).stands() {
				continue
			}
			if best == nil || chi > best.chi {
				best = &lullStretch{from: from, to: to, col: col, size: Value{in.xy / in.xx, 1 / math.Sqrt(in.xx)}, chi: chi}
			}
		}
	}
	return best
}

// lullDay follows the finding of such stretches.
func (e *Estimator) lullDay(d *dayData) {
	l := &e.lull
	if l.today != nil {
		l.absent = 0
		l.days++
		e.tellLull(l.today)
		l.today = nil
		return
	}
	if l.id == "" {
		return
	}
	if l.absent++; l.absent < lullOver {
		return
	}
	for i := range e.findings {
		if f := &e.findings[i]; f.ID == l.id && f.Active() {
			f.Ended = e.lastAt
		}
	}
	*l = lull{}
}

// tellLull raises the finding of a stretch, or brings it up to date.
func (e *Estimator) tellLull(s *lullStretch) {
	kind := finding.RestrictionAfterTap
	if s.col == e.cols.fan {
		kind = finding.FanSlow
	}
	row := diagnosis.Of(kind)
	at := slices.IndexFunc(e.findings, func(f finding.Finding) bool { return f.ID == e.lull.id && f.Active() })
	if e.lull.id == "" || at < 0 {
		f := finding.Finding{Collector: e.collector.Name, Kind: kind, Priority: finding.Plan, Raised: e.lastAt,
			Onset: s.at, OnsetLow: s.at, OnsetHigh: s.at, Confidence: confidence, SizeUnit: "1"}
		f.ID = e.newID(kind, "", s.at)
		e.findings = append(e.findings, f)
		e.lull.id, at = f.ID, len(e.findings)-1
	}
	f := &e.findings[at]
	half := detect.Quantile(confidence) * s.size.SE
	f.Size, f.SizeLow, f.SizeHigh = math.Exp(s.size.V), math.Exp(s.size.V-half), math.Exp(s.size.V+half)
	f.Where = []finding.Place{{Part: e.cols.part(s.col), Probability: 1}} // what comes and goes is no hole
	f.ConfusableWith, f.Action = row.Others(), diagnosis.ComesAndGoes+" "+row.Action("")
	f.Evidence = "The runs before and after it on the same day read as they should."
	f.Text = e.lullWords(s)
}

// lullWords says when it was and how much was lost.
func (e *Estimator) lullWords(s *lullStretch) string {
	left := math.Exp(s.size.V)
	if s.col == e.cols.fan {
		left *= left
	}
	from, to := s.at.In(e.site.Location), s.over.In(e.site.Location)
	text := fmt.Sprintf("On %s, from %s to %s, all pressures fell together, to %.0f %% of what the fan otherwise leaves, and came back by themselves.",
		e.dateWords(s.at), from.Format("15:04"), to.Format("15:04"), 100*left)
	if e.lull.days > 1 {
		text += fmt.Sprintf(" It has been so on %d days.", e.lull.days)
	}
	return text + " The room may be short of air to draw from when its doors are shut."
}
