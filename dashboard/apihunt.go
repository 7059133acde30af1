package dashboard

import (
	"net/http"
	"time"

	"ductward/internal/estimate"
	"ductward/internal/finding"
)

type nextTestDTO struct {
	Finding  string          `json:"finding"`
	Entropy  *float64        `json:"entropy_bits"`
	Suspects []finding.Place `json:"suspects"`
	Tests    []proposalDTO   `json:"tests"`
	Refused  int             `json:"refused_sets"`
	Reason   string          `json:"reason"`
}

type proposalDTO struct {
	Open      []string       `json:"open"`
	Ports     map[string]int `json:"selectors"`
	Duration  float64        `json:"duration_s"`
	Gain      *float64       `json:"gain_bits"`
	Likeliest *float64       `json:"likeliest_after"`
	Reason    string         `json:"reason"`
}

type checkDTO struct {
	Kind     estimate.CheckKind `json:"kind"`
	Sets     [][]string         `json:"sets"`
	Duration float64            `json:"duration_s"`
	Due      bool               `json:"due"`
	Since    *time.Time         `json:"since"`
	Last     *time.Time         `json:"last"`
	Power    *float64           `json:"new_leakage_m3_s_sd"`
	Closed   *float64           `json:"new_leakage_all_shut_m3_s_sd"`
}

func newNextTestDTO(n *estimate.NextTest) *nextTestDTO {
	if n == nil {
		return nil
	}
	out := &nextTestDTO{Finding: n.Finding, Entropy: num(n.Entropy), Suspects: list(n.Suspects), Tests: []proposalDTO{}, Refused: n.Refused, Reason: n.Reason}
	for _, p := range n.Tests {
		out.Tests = append(out.Tests, proposalDTO{list(p.Open), p.Ports, p.Duration.Seconds(), num(p.Gain), num(p.Likeliest), p.Reason})
	}
	return out
}

func newCheckDTOs(checks []estimate.Check) []checkDTO {
	out := []checkDTO{}
	for _, c := range checks {
		d := checkDTO{Kind: c.Kind, Sets: [][]string{}, Duration: c.Duration.Seconds(), Due: c.Due, Since: stamp(c.Since), Last: stamp(c.Last),
			Power: num(c.Power), Closed: num(c.Closed)}
		for _, set := range c.Sets {
			d.Sets = append(d.Sets, list(set))
		}
		out = append(out, d)
	}
	return out
}

// huntDTO is where a collector's leak hunt stands.
type huntDTO struct {
	Collector string          `json:"collector"`
	Hunting   bool            `json:"leak_hunt"`
	Step      stepKind        `json:"step"`
	Do        string          `json:"do"`
	More      string          `json:"more"`
	Moves     []moveDTO       `json:"moves"`
	Done      int             `json:"steady_s"`
	Of        int             `json:"of_s"`
	Finding   string          `json:"finding"`
	Places    []finding.Place `json:"places"`
	Cautions  []string        `json:"cautions"`
}

// moveDTO is one gate or selector to be moved, in the order in which that is safe.
type moveDTO struct {
	Name string `json:"name"`
	Verb string `json:"verb"`
}

// apiHunt answers with the one thing to do now in each collector's leak hunt.
func (s *server) apiHunt(w http.ResponseWriter, r *http.Request) {
	rq := s.newRequest(r)
	out := []huntDTO{}
	if rq.snap != nil {
		latest := s.Readings.Latest()
		for i := range rq.snap.Collectors {
			c := &rq.snap.Collectors[i]
			f := huntedFinding(c)
			step := s.huntStep(rq, c, s.stateOf(rq, c, latest), latest, f)
			d := huntDTO{Collector: c.Name, Hunting: c.Hunting, Step: step.Kind, Do: step.Do, More: step.More, Moves: []moveDTO{},
				Done: step.Done, Of: step.Of, Places: []finding.Place{}, Cautions: []string{}}
			for _, m := range step.Moves {
				d.Moves = append(d.Moves, moveDTO{m.Name, m.Verb})
			}
			if f != nil {
				d.Finding, d.Places, d.Cautions = f.ID, list(suspects(c, f)), huntCautions(step.Kind, f)
			}
			out = append(out, d)
		}
	}
	writeJSON(w, http.StatusOK, map[string]any{"hunts": out})
}
