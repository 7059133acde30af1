package main

import (
	"io"
	"math"

	"ductward/internal/worth"
)

// The shapes below are a contract with other programs: keys are added, never renamed or given another meaning.

type worthJSON struct {
	Collectors []worthCollectorJSON `json:"collectors"`
}

type worthCollectorJSON struct {
	Name       string               `json:"name"`
	Drawn      bool                 `json:"drawn"`
	Lacks      []worthLackJSON      `json:"lacks"`
	Sentence   word                 `json:"sentence"`
	Reference  number               `json:"reference_suction_pa"`
	Leak       number               `json:"leak_m3_s"`
	Needy      word                 `json:"neediest_machine"`
	Now        *worthFiguresJSON    `json:"now"`
	Candidates []worthCandidateJSON `json:"candidates"`
	Refused    []worthRefusedJSON   `json:"not_proposed"`
}

type worthLackJSON struct {
	Key    string `json:"key"`
	Brings string `json:"brings"`
}

type worthRefusedJSON struct {
	Text   string `json:"text"`
	Reason string `json:"reason"`
}

type worthFiguresJSON struct {
	Day     number          `json:"leak_found_in_a_day_m3_s"`
	Week    number          `json:"leak_found_in_a_week_m3_s"`
	Apart   number          `json:"leak_told_from_blockage_m3_s"`
	Stretch number          `json:"right_stretch_first"`
	Filter  number          `json:"filter_resistance_ratio_sd"`
	Air     number          `json:"neediest_machine_flow_ratio_sd"`
	Zones   []worthZoneJSON `json:"zones"`
}

type worthZoneJSON struct {
	Part string `json:"part"`
	SD   number `json:"new_leakage_m3_s_sd"`
}

type worthCandidateJSON struct {
	Kind     string `json:"kind"`
	Text     string `json:"text"`
	Measures word   `json:"measures"`
	Run      word   `json:"run"`
	Score    number `json:"score"`
	worthFiguresJSON
}

// writeWorthJSON writes all collectors as one object.
func writeWorthJSON(w io.Writer, answers []worthAnswer) error {
	out := worthJSON{Collectors: []worthCollectorJSON{}}
	for _, a := range answers {
		out.Collectors = append(out.Collectors, worthCollector(a))
	}
	return writeJSON(w, out)
}

func worthCollector(a worthAnswer) worthCollectorJSON {
	out := worthCollectorJSON{Name: a.collector, Drawn: a.answer != nil, Lacks: []worthLackJSON{},
		Candidates: []worthCandidateJSON{}, Refused: []worthRefusedJSON{}}
	for _, l := range a.lacks {
		out.Lacks = append(out.Lacks, worthLackJSON(l))
	}
	if a.answer == nil {
		out.Reference, out.Leak = number(math.NaN()), number(math.NaN())
		return out
	}
	now := worthFigures(a.answer.Now)
	out.Now, out.Sentence = &now, word(a.answer.First())
	out.Reference, out.Leak, out.Needy = number(a.answer.Reference), number(a.answer.Question.Leak), word(a.answer.Needy)
	for _, r := range a.answer.Refused {
		out.Refused = append(out.Refused, worthRefusedJSON(r))
	}
	for _, k := range a.answer.Candidates {
		c := worthCandidateJSON{Kind: string(k.Kind), Text: k.Text, Score: number(k.Score), worthFiguresJSON: worthFigures(k.Figures)}
		if k.Sensor != nil {
			c.Measures, c.Run = word(k.Sensor.Measures.String()), word(k.Sensor.Run)
		}
		out.Candidates = append(out.Candidates, c)
	}
	return out
}

func worthFigures(f worth.Figures) worthFiguresJSON {
	out := worthFiguresJSON{Day: number(f.Day), Week: number(f.Week), Apart: number(f.Apart), Stretch: number(f.Stretch),
		Filter: number(f.Filter), Air: number(f.Air), Zones: []worthZoneJSON{}}
	for _, z := range f.Zones {
		out.Zones = append(out.Zones, worthZoneJSON{z.Part, number(z.SD)})
	}
	return out
}
