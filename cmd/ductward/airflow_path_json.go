package main

import "ductward/internal/duct"

// airflowPathJSON is the way of a machine's air to the room, its elements in the order in which the air meets them.
type airflowPathJSON struct {
	Machine  string               `json:"machine"`
	Flow     number               `json:"flow_m3_s"`
	Rise     number               `json:"fan_rise_pa"`
	Inlet    number               `json:"fan_inlet_loss_pa"`
	Elements []airflowElementJSON `json:"elements"`
}

type airflowElementJSON struct {
	Step        int    `json:"step"`
	Kind        string `json:"kind"`
	Name        word   `json:"name"`
	Run         word   `json:"run"`
	What        string `json:"what"`
	Words       word   `json:"words"`
	Line        *int   `json:"line"`
	Flow        number `json:"flow_m3_s"`
	Velocity    number `json:"velocity_m_s"`
	Diameter    number `json:"diameter_m"`
	Length      number `json:"length_m"`
	Coefficient number `json:"loss_coefficient"`
	Loss        number `json:"loss_pa"`
	LossShare   number `json:"loss_share"`
}

func airflowPath(p *duct.Path) airflowPathJSON {
	out := airflowPathJSON{Machine: p.Machine, Flow: number(p.Flow), Rise: number(p.Rise), Inlet: number(p.Inlet), Elements: []airflowElementJSON{}}
	for i := range p.Elements {
		e := &p.Elements[i]
		var line *int
		if e.Line > 0 {
			line = &e.Line
		}
		out.Elements = append(out.Elements, airflowElementJSON{
			Step: e.Step, Kind: string(e.Kind), Name: word(e.Name), Run: word(e.Run), What: e.What, Words: word(e.Words), Line: line,
			Flow: number(e.Flow), Velocity: number(e.Velocity), Diameter: number(e.Diameter), Length: number(e.Length),
			Coefficient: number(e.Coefficient), Loss: number(e.Loss), LossShare: number(e.Loss / p.Rise),
		})
	}
	return out
}
