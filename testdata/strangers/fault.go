package main

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
)

// fault is something that happens to a plant, on a day of work and an hour.
type fault struct {
	Kind string  `json:"kind"`
	Day  int     `json:"day"` // of work
	Hour float64 `json:"hour"`
	Part string  `json:"part,omitempty"`
	Size float64 `json:"size"`           // in the unit of its kind, see put
	Days int     `json:"days,omitempty"` // over which it comes, or that it stays, of a gate; 0: at once, and for good
}

// share returns how much of a fault is there at a moment.
func (f *fault) share(day int, hour float64) float64 {
	since := float64(day-f.Day) + (hour-f.Hour)/24
	switch {
	case since < 0:
		return 0
	case f.Days == 0:
		return 1
	}
	return min(since/float64(f.Days), 1)
}

// leakOf returns the opening of a part that may leak; nil if there is none of that name.
func (p *plant) leakOf(part string) *opening {
	for _, l := range p.limbs {
		switch part {
		case "run:" + l.name:
			return &l.seams
		}
	}
	for i, l := range p.drops {
		switch part {
		case "drop:" + p.machines[i] + " gate":
			return &l.seams
		case "seat:" + p.machines[i] + " gate":
			return &l.seat
		case "open-side:" + p.machines[i]:
			return &l.openSide
		}
	}
	return nil
}

// sensing is what is wrong with the sensors.
type sensing struct {
	zero   map[string]float64 // Pa beside the ordinary
	gain   map[string]float64 // factor
	plug   map[string]float64 // minutes that a plugged tap takes to follow
	off    map[string]bool    // the tube is off: it reads the room
	silent map[string]bool
}

func newSensing() *sensing {
	return &sensing{map[string]float64{}, map[string]float64{}, map[string]float64{}, map[string]bool{}, map[string]bool{}}
}

// put puts what is there of a fault into the plant's condition. Leaks are added to what their parts let in by themselves.
func (f *fault) put(p *plant, c *condition, s *sensing, day int, hour float64) {
	k := f.share(day, hour)
	if k == 0 {
		return
	}
	switch f.Kind {
	case "leak": // m³/h at the reference suction
		p.leakOf(f.Part).size += k * f.Size / 3600
	case "block": // factor on the losses of a machine's drop, less 1
		c.block[p.index(f.Part)] *= 1 + k*f.Size
	case "slip": // share of the fan's speed
		c.speed *= 1 - k*f.Size
	case "choke": // factor on a run's losses, less 1
		for _, l := range p.limbs {
			if "run:"+l.name == f.Part {
				c.choke[l] = 1 + k*f.Size
			}
		}
	case "behind": // share of the fan's shut-off pressure, at half of its most flow
		c.tight += k * f.Size * p.shutOff / sq(p.most/2)
	case "tear": // m³/h at the reference pressure
		c.tear = opening{k * f.Size / 3600, 0.5}
	case "lid": // m³/h
		c.lid = opening{k * f.Size / 3600, 0.55}
	case "zero": // Pa
		s.zero[f.Part] += k * f.Size
	case "gain": // share
		s.gain[f.Part] = 1 + k*f.Size
	case "plug": // minutes
		s.plug[f.Part] = f.Size
	case "tube":
		s.off[f.Part] = true
	case "silent":
		s.silent[f.Part] = true
	}
}

func (p *plant) index(machine string) int {
	for i, m := range p.machines {
		if m == machine {
			return i
		}
	}
	return -1
}

// parseFault reads KIND,DAY,SIZE[,PART[,DAYS]].
func parseFault(s string) (fault, error) {
	f := fault{Hour: 9.5}
	w := strings.Split(s, ",")
	if len(w) < 3 {
		return f, fmt.Errorf("%q: write KIND,DAY,SIZE[,PART[,DAYS]]", s)
	}
	f.Kind = w[0]
	var err, err2, err3 error
	f.Day, err = strconv.Atoi(w[1])
	f.Size, err2 = strconv.ParseFloat(w[2], 64)
	if len(w) > 3 {
		f.Part = w[3]
	}
	if len(w) > 4 {
		f.Days, err3 = strconv.Atoi(w[4])
	}
	return f, errors.Join(err, err2, err3)
}

// place draws the places that faults leave open, and refuses what the plant does not have.
func (p *plant) place(r *rand.Rand, faults []fault) error {
	for i := range faults {
		f := &faults[i]
		gate := p.machines[r.IntN(len(p.machines))]
		run := p.limbs[r.IntN(len(p.limbs))]
		for run.from == nil && run.after == nil {
			run = p.limbs[r.IntN(len(p.limbs))]
		}
		switch f.Kind {
		case "leak":
			f.Part = drawPart(r, f.Part, "run:"+run.name, "drop:"+gate+" gate", "seat:"+gate+" gate")
			if p.leakOf(f.Part) == nil {
				return fmt.Errorf("no part %q can leak", f.Part)
			}
		case "choke":
			f.Part = drawPart(r, f.Part, "run:"+run.name, "run:"+run.name, "run:"+run.name)
		case "block", "open":
			if f.Part == "?" {
				f.Part = gate
			}
			if p.index(f.Part) < 0 {
				return fmt.Errorf("no machine %q", f.Part)
			}
		}
	}
	return nil
}

func drawPart(r *rand.Rand, asked, trunk, drop, seat string) string {
	k := r.IntN(3)
	switch {
	case asked == "trunk?", asked == "?" && k == 0:
		return trunk
	case asked == "drop?", asked == "?" && k == 1:
		return drop
	case asked == "seat?", asked == "?":
		return seat
	}
	return asked
}
