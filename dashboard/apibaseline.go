package dashboard

import (
	"time"

	"ductward/internal/estimate"
	"ductward/internal/watch"
)

// baselineMoreDTO is what is known of a baseline beside how it stands.
type baselineMoreDTO struct {
	NewAsked   bool         `json:"new_asked"`     // another takes its place with the next day's work
	BackAsked  *int         `json:"version_asked"` // this version holds again with the next day's work
	Days       int          `json:"days"`          // of the one in the making
	DaysNeeded int          `json:"days_needed"`
	Runs       int          `json:"runs"`
	RunsNeeded int          `json:"runs_needed"`
	Walk       []stepDTO    `json:"walk"`
	Sets       []setDTO     `json:"sets"`
	Versions   []versionDTO `json:"versions"`
}

type stepDTO struct {
	Machine string   `json:"machine"`
	Open    []string `json:"open"`
	Done    bool     `json:"done"`
	Borne   bool     `json:"borne"` // the ducts are known to bear it
}

type setDTO struct {
	Open    []string    `json:"open"`
	Runs    int         `json:"runs"`
	Days    int         `json:"days"`
	Sensors []misfitDTO `json:"sensors"`
}

type misfitDTO struct {
	Channel string   `json:"channel"`
	Misfit  *float64 `json:"misfit"` // log(read/expected)
	SD      *float64 `json:"misfit_sd"`
}

type versionDTO struct {
	Version    int        `json:"version"`
	From       *time.Time `json:"from"`
	To         *time.Time `json:"to"`
	GateSets   int        `json:"gate_sets"`
	Misfit     *float64   `json:"misfit_rms"`
	Stands     bool       `json:"stands"`
	Accepted   *time.Time `json:"accepted"`
	AcceptedBy string     `json:"accepted_by"`
	Rejected   *time.Time `json:"rejected"`
	RejectedBy string     `json:"rejected_by"`
}

type promiseDTO struct {
	PerYear     float64  `json:"false_alarms_per_year"`
	Share       float64  `json:"share_of_search"`
	WorkingDays int      `json:"working_days_per_year"`
	Directions  int      `json:"directions"`
	Window      int      `json:"window_days"`
	Threshold   float64  `json:"threshold_sd"`
	GrowthDoubt float64  `json:"growth_doubt"` // log of a ratio of evidences
	Watched     int      `json:"days_watched"`
	Within      *float64 `json:"scatter_within"` // mean squares over what is stated
	Between     *float64 `json:"scatter_between"`
	Inflation   float64  `json:"variance_inflation"`
	Told        int      `json:"changes_told"` // since the baseline that holds
	Learnt      int      `json:"days_learnt"`
	PriorDays   float64  `json:"prior_days"`
	Correlation float64  `json:"error_correlation"` // from one day to the next
}

func newBaselineMore(b *estimate.Baseline) baselineMoreDTO {
	out := baselineMoreDTO{NewAsked: b.Asked.New, Days: b.Days, DaysNeeded: b.DaysNeeded, Runs: b.Runs, RunsNeeded: b.RunsNeeded,
		Walk: []stepDTO{}, Sets: []setDTO{}, Versions: []versionDTO{}}
	if back := b.Asked.Back; back > 0 {
		out.BackAsked = &back
	}
	for _, s := range b.Walk {
		out.Walk = append(out.Walk, stepDTO{s.Machine, list(s.Open), s.Done, s.Borne})
	}
	for _, s := range b.Sets {
		d := setDTO{Open: list(s.Open), Runs: s.Runs, Days: s.Days, Sensors: []misfitDTO{}}
		for _, c := range s.Channels {
			d.Sensors = append(d.Sensors, misfitDTO{c.Channel, num(c.Misfit.V), num(c.Misfit.SE)})
		}
		out.Sets = append(out.Sets, d)
	}
	for _, v := range b.Versions {
		out.Versions = append(out.Versions, versionDTO{v.Version, stamp(v.From), stamp(v.To), v.GateSets, num(v.MisfitRMS), v.Stands,
			stamp(v.Accepted), v.AcceptedBy, stamp(v.Rejected), v.RejectedBy})
	}
	return out
}

func newPromiseDTO(c *watch.Collector) *promiseDTO {
	p := c.Promise
	if p == nil {
		return nil
	}
	return &promiseDTO{p.PerYear, p.Share, p.WorkingDays, p.Directions, p.Window, p.Threshold, p.GrowthDoubt, p.Watched,
		num(p.Within), num(p.Between), p.Inflation, changesTold(c), p.Learnt, p.PriorDays, p.Correlation}
}
