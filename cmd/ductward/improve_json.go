package main

import (
	"io"

	"ductward/internal/improve"
)

// The shapes below are a contract with other programs: keys are added, never renamed or given another meaning.

type improveJSON struct {
	Collectors []improveCollectorJSON `json:"collectors"`
}

type improveCollectorJSON struct {
	Name     string                `json:"name"`
	Sentence string                `json:"sentence"`
	Filter   number                `json:"filter_resistance_ratio"`
	Least    number                `json:"transport_velocity_m_s"`
	Bare     number                `json:"flow_without_ducts_m3_s"`
	Currency word                  `json:"currency"`
	Sets     []improveSetJSON      `json:"sets"`
	Short    int                   `json:"short"`
	Tight    bool                  `json:"nobody_short"`
	Needy    []improveNeedyJSON    `json:"needy"`
	Advised  []improveProposalJSON `json:"advised"`
	Refused  []improveProposalJSON `json:"not_advised"`
	Steps    []improveStepJSON     `json:"steps"`
	Tried    int                   `json:"tried"`
	Idle     int                   `json:"idle"`
	Lost     int                   `json:"unsolved"`
	Locked   []string              `json:"always_shut"`
	Unstated []string              `json:"without_need"`
}

type improveSetJSON struct {
	Machines []string `json:"machines"`
	Needs    number   `json:"needed_m3_s"`
	Beyond   bool     `json:"beyond_collector"`
	Counts   bool     `json:"counts"`
}

type improveNeedyJSON struct {
	Machine string   `json:"machine"`
	Needs   number   `json:"needed_m3_s"`
	Flow    number   `json:"least_flow_m3_s"`
	Worst   []string `json:"with"`
	Sets    int      `json:"short_in"`
	Open    int      `json:"open_in"`
}

type improveProposalJSON struct {
	Kind     string               `json:"kind"`
	Place    string               `json:"place"`
	Text     string               `json:"text"`
	Assumes  []string             `json:"assumes"`
	Gain     number               `json:"gain_m3_s"`
	Gains    []improveGainJSON    `json:"machines"`
	Losses   []improveLossJSON    `json:"losses"`
	Since    []improveAgainstJSON `json:"since"`
	Reason   word                 `json:"reason"`
	Short    int                  `json:"short"`
	Needs    []improveItemJSON    `json:"needs"`
	Cost     number               `json:"cost"`
	PerMoney number               `json:"gain_per_money_m3_s"`
	Without  []string             `json:"without_price"`
}

type improveGainJSON struct {
	Machine string   `json:"machine"`
	Gain    number   `json:"gain_m3_s"`
	Worst   []string `json:"with"`
	Before  number   `json:"before_m3_s"`
	After   number   `json:"after_m3_s"`
	Needs   number   `json:"needed_m3_s"`
	Sets    int      `json:"counted_in"`
	Served  int      `json:"served_in"`
}

type improveLossJSON struct {
	Machine string   `json:"machine"`
	Set     []string `json:"with"`
	Before  number   `json:"before_m3_s"`
	After   number   `json:"after_m3_s"`
	Newly   bool     `json:"newly_short"`
}

type improveAgainstJSON struct {
	Set      []string `json:"with"`
	Run      word     `json:"run"`
	Velocity number   `json:"velocity_m_s"`
	Before   number   `json:"velocity_before_m_s"`
	Suction  number   `json:"suction_pa"`
	Rating   number   `json:"rating_pa"`
}

type improveItemJSON struct {
	What     string `json:"what"`
	Diameter number `json:"diameter_m"`
	Amount   number `json:"amount"`
	Each     number `json:"each"`
}

type improveStepJSON struct {
	improveProposalJSON
	Total number   `json:"total_cost"`
	Still []string `json:"still_short"`
}

// writeImproveJSON writes all collectors as one object.
func writeImproveJSON(w io.Writer, answers []*improve.Answer) error {
	out := improveJSON{Collectors: []improveCollectorJSON{}}
	for _, a := range answers {
		out.Collectors = append(out.Collectors, improveCollector(a))
	}
	return writeJSON(w, out)
}
