package dashboard

import (
	"net/http"

	"ductward/internal/finding"
)

// repairDTO is what somebody did about a finding, and how much came back.
type repairDTO struct {
	Finding    string   `json:"finding"`
	Entry      entryDTO `json:"entry"`
	Measure    string   `json:"measure"` // "": none tells whether it worked
	Unit       string   `json:"unit"`
	BeforeDate string   `json:"before_date"` // "": there are no days to compare
	Before     *float64 `json:"before"`
	BeforeSD   *float64 `json:"before_sd"`
	AfterDate  string   `json:"after_date"`
	After      *float64 `json:"after"`
	AfterSD    *float64 `json:"after_sd"`
	Back       *float64 `json:"came_back"`
	BackSD     *float64 `json:"came_back_sd"`
}

// apiRepairs answers with what was done about each finding and whether it worked.
func (s *server) apiRepairs(w http.ResponseWriter, r *http.Request) {
	rq := s.newRequest(r)
	entries, err := s.Journal.Journal()
	if err != nil {
		s.trouble(w, r, err)
		return
	}
	out := []repairDTO{}
	if rq.snap != nil {
		for i := range rq.snap.Collectors {
			c := &rq.snap.Collectors[i]
			for j := range c.Findings {
				for _, x := range s.repairs(c, &c.Findings[j], entries) {
					out = append(out, newRepairDTO(&c.Findings[j], &x))
				}
			}
		}
	}
	writeJSON(w, http.StatusOK, map[string]any{"repairs": out})
}

func newRepairDTO(f *finding.Finding, r *repair) repairDTO {
	m, _ := measuredBy(f)
	d := repairDTO{Finding: f.ID, Entry: newEntryDTO(r.entry, 0), Measure: m.name, Unit: m.unit}
	if r.before != nil {
		d.BeforeDate, d.AfterDate = r.before.Date, r.after.Date
		d.Before, d.BeforeSD, d.After, d.AfterSD = num(r.was.V), num(r.was.SE), num(r.is.V), num(r.is.SE)
		d.Back, d.BackSD = num(r.back.V), num(r.back.SE)
	}
	return d
}
