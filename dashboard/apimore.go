package dashboard

import (
	"math"
	"net/http"
	"time"

	"ductward/internal/checks"
	"ductward/internal/estimate"
	"ductward/internal/journal"
	"ductward/internal/watch"
)

// cleaningDTO is one cleaning or replacement of a filter. Ratios are of the baseline's resistance.
type cleaningDTO struct {
	Collector   string     `json:"collector"`
	At          *time.Time `json:"at"`
	Noticed     bool       `json:"noticed"`
	WrittenBy   string     `json:"written_by"` // "": nobody wrote it down
	Replaced    bool       `json:"replaced"`
	Before      *float64   `json:"filter_resistance_ratio_before"`
	BeforeSD    *float64   `json:"filter_resistance_ratio_before_sd"`
	After       *float64   `json:"filter_resistance_ratio_after"`
	AfterSD     *float64   `json:"filter_resistance_ratio_after_sd"`
	Recovered   *float64   `json:"recovered"`
	RecoveredSD *float64   `json:"recovered_sd"`
}

// apiCleanings answers with what each cleaning recovered, oldest first by collector.
func (s *server) apiCleanings(w http.ResponseWriter, r *http.Request) {
	rq := s.newRequest(r)
	entries, err := s.Journal.Journal()
	if err != nil {
		s.trouble(w, r, err)
		return
	}
	out := []cleaningDTO{}
	if rq.snap != nil {
		for i := range rq.snap.Collectors {
			c := &rq.snap.Collectors[i]
			for _, one := range cleanings(c, entries) {
				out = append(out, s.cleaningDTO(one, c))
			}
		}
	}
	writeJSON(w, http.StatusOK, map[string]any{"cleanings": out})
}

func (s *server) cleaningDTO(one cleaning, c *watch.Collector) cleaningDTO {
	out := cleaningDTO{Collector: c.Name, At: stamp(one.at), Noticed: one.noticed, WrittenBy: one.by, Replaced: one.replaced}
	unknown := estimate.Value{V: math.NaN(), SE: math.NaN()}
	was, is := unknown, unknown
	before, after := s.around(one, c)
	if before != nil {
		was = before.FilterRatio
	}
	if after != nil {
		is = after.FilterRatio
	}
	gain := recovered(was, is)
	out.Before, out.BeforeSD, out.After, out.AfterSD = num(was.V), num(was.SE), num(is.V), num(is.SE)
	out.Recovered, out.RecoveredSD = num(gain.V), num(gain.SE)
	return out
}

// forecastDTO is a date for a cleaning that was told, and what became of it.
type forecastDTO struct {
	Collector string     `json:"collector"`
	Told      *time.Time `json:"told"`
	dueDTO
	End     *time.Time `json:"end"`
	Came    bool       `json:"had_to_be"`
	Ratio   *float64   `json:"filter_resistance_ratio"`
	RatioSD *float64   `json:"filter_resistance_ratio_sd"`
	Outcome outcome    `json:"outcome"`
}

// apiForecasts answers with past forecasts of cleanings against what happened, oldest first by collector.
func (s *server) apiForecasts(w http.ResponseWriter, r *http.Request) {
	rq := s.newRequest(r)
	entries, err := s.Journal.Journal()
	if err != nil {
		s.trouble(w, r, err)
		return
	}
	out := []forecastDTO{}
	if rq.snap != nil {
		for i := range rq.snap.Collectors {
			c := &rq.snap.Collectors[i]
			for _, f := range s.pastForecasts(c, cleanings(c, entries)) {
				out = append(out, forecastDTO{c.Name, stamp(f.told), newDueDTO(&f.due), stamp(f.end), f.came, num(f.ratio.V), num(f.ratio.SE), f.outcome()})
			}
		}
	}
	writeJSON(w, http.StatusOK, map[string]any{"forecasts": out})
}

// positionDTO is what stands where a person says.
type positionDTO struct {
	Channel string   `json:"channel"`
	Name    string   `json:"name"`
	Value   *float64 `json:"value"`   // the index of its choice; null: not known
	Choices []string `json:"choices"` // what 0, 1 and so on mean
}

// apiPositions lists what is set by hand.
func (s *server) apiPositions(w http.ResponseWriter, _ *http.Request) {
	out := []positionDTO{}
	for _, row := range s.handRows() {
		d := positionDTO{Channel: row.Channel, Name: row.Name, Choices: []string{}}
		for i, c := range row.Choices {
			if c.Value == notKnown {
				continue
			}
			d.Choices = append(d.Choices, c.Word)
			if c.Now {
				d.Value = num(float64(i))
			}
		}
		out = append(out, d)
	}
	writeJSON(w, http.StatusOK, map[string]any{"positions": out})
}

// targetDTO is how it goes with one target of letters.
type targetDTO struct {
	Target   string          `json:"target"`
	Waiting  int             `json:"waiting"`
	Last     *time.Time      `json:"last_delivered"`
	Failures int             `json:"failures"` // in a row
	Problem  string          `json:"problem"`  // of the last try
	GivenUp  []deadLetterDTO `json:"given_up"` // newest first
}

// deadLetterDTO is a letter that could not be delivered.
type deadLetterDTO struct {
	Subject string     `json:"subject"`
	Ended   *time.Time `json:"ended"`
	Why     string     `json:"why"`
}

// apiTargets tells how it goes with those whom the shop file wants told; none where nobody is.
func (s *server) apiTargets(w http.ResponseWriter, _ *http.Request) {
	out := []targetDTO{}
	if s.Delivery != nil {
		for _, t := range s.Delivery.Status() {
			d := targetDTO{Target: t.Target, Waiting: t.Waiting, Last: stamp(t.Last), Failures: t.Failures, Problem: t.Problem, GivenUp: []deadLetterDTO{}}
			for i := range t.Dead {
				d.GivenUp = append(d.GivenUp, deadLetterDTO{t.Dead[i].Letter.Subject, stamp(t.Dead[i].Ended), t.Dead[i].Last})
			}
			out = append(out, d)
		}
	}
	writeJSON(w, http.StatusOK, map[string]any{"targets": out})
}

// scheduledDTO is one check of the owner's schedule.
type scheduledDTO struct {
	Name    string         `json:"name"`
	AskedBy string         `json:"asked_by"`
	Last    *time.Time     `json:"last"`
	LastBy  string         `json:"last_by"`
	Result  journal.Result `json:"last_result"`
	Next    *time.Time     `json:"next"`
	Due     bool           `json:"due"`
}

// apiChecks answers with the owner's schedule, as the logbook keeps it.
func (s *server) apiChecks(w http.ResponseWriter, r *http.Request) {
	entries, err := s.Journal.Journal()
	if err != nil {
		s.trouble(w, r, err)
		return
	}
	out := []scheduledDTO{}
	for _, d := range s.scheduled(entries, s.Clock.Now()) {
		out = append(out, scheduledDTO{d.Check.Name, d.Check.AskedBy, stamp(d.Last), d.By, d.Result, stamp(d.At), d.Over})
	}
	writeJSON(w, http.StatusOK, map[string]any{"checks": out})
}

// scheduled tells how the checks stand. One that was never done counts from the logbook's first entry.
func (s *server) scheduled(entries []journal.Entry, now time.Time) []checks.Due {
	began := now
	if len(entries) > 0 {
		began = minTime(entries[0].Time, now)
	}
	return checks.List(s.Shop.Checks, journal.InForce(entries), began, now)
}

// shopDTO is the shop file as it was read.
type shopDTO struct {
	Name     string       `json:"name"`
	Path     string       `json:"path"`
	Text     string       `json:"text"`
	Warnings []warningDTO `json:"warnings"`

	Knowledge []knowledgeDTO `json:"knowledge"`
}

// knowledgeDTO is one piece of knowledge of a collector that a shop file can have, and what it brings.
type knowledgeDTO struct {
	Collector string `json:"collector"`
	What      string `json:"what"`
	Has       bool   `json:"has"`
	Brings    string `json:"brings"`
}

type warningDTO struct {
	Line int    `json:"line"`
	Text string `json:"text"`
}

// apiShop answers with the shop file and what was remarked on it.
func (s *server) apiShop(w http.ResponseWriter, _ *http.Request) {
	out := shopDTO{Name: s.Shop.Name, Path: s.Shop.Path, Text: string(s.Shop.Raw), Warnings: []warningDTO{}, Knowledge: []knowledgeDTO{}}
	for _, c := range s.Shop.Collectors {
		for _, l := range levels(c) {
			out.Knowledge = append(out.Knowledge, knowledgeDTO{c.Name, l.What, l.Has, l.Brings})
		}
	}
	for _, n := range s.file.Warnings {
		out.Warnings = append(out.Warnings, warningDTO(n))
	}
	writeJSON(w, http.StatusOK, out)
}
