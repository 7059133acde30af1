package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// told is what of "ductward replay --json" is judged.
type told struct {
	Collectors []struct {
		Days []struct {
			Date     string   `json:"date"`
			Filter   *float64 `json:"filter_resistance_ratio"`
			FilterSD *float64 `json:"filter_resistance_ratio_sd"`
			Leak     *float64 `json:"new_leakage_m3_s"`
			LeakSD   *float64 `json:"new_leakage_m3_s_sd"`
			Speed    *float64 `json:"fan_speed_ratio"`
			SpeedSD  *float64 `json:"fan_speed_ratio_sd"`
		} `json:"days"`
		Findings []finding `json:"findings"`
	} `json:"collectors"`
}

type finding struct {
	Kind     string  `json:"kind"`
	Subject  string  `json:"subject"`
	Priority string  `json:"priority"`
	Raised   string  `json:"raised"`
	Onset    string  `json:"onset"`
	Ended    string  `json:"ended"`
	Size     float64 `json:"size"`
	SizeLow  float64 `json:"size_low"`
	SizeHigh float64 `json:"size_high"`
	Unit     string  `json:"size_unit"`
	Where    []place `json:"where"`
}

type place struct {
	Part        string   `json:"part"`
	Members     []string `json:"members"`
	Probability float64  `json:"probability"`
}

// meets tells by which kinds of finding each fault may be told.
var meets = map[string][]string{
	"leak":   {"new-leak", "growing-leak", "gate-leaks"},
	"lid":    {"new-leak", "growing-leak", "gate-leaks"},
	"block":  {"drop-blocked"},
	"slip":   {"fan-slow", "restriction-after-tap"},
	"behind": {"restriction-after-tap", "fan-slow"},
	"choke":  {"trunk-blocked"},
	"tear":   {"filter-lost-resistance"},
	"zero":   {"sensor-zero"},
	"gain":   {"sensor-disagrees", "sensor-zero"},
	"plug":   {"sensor-plugged", "sensor-stuck"},
	"tube":   {"sensor-disagrees", "sensor-stuck", "sensor-lost", "sensor-plugged"},
	"silent": {"sensor-lost"},
	"open":   {"gate-left-open", "gate-leaks"},
}

// usual is told of healthy shops too, rightly.
var usual = []string{"filter-due", "filter-cleaned", "air-short", "dust-may-settle"}

// tally sums over lives.
type tally struct {
	lives, days, held, wrong                     int
	leak2, leakZ2                                float64
	filter2, filterZ2                            float64
	told, faults, right, bold, boldRight, places int
	found, hidden                                int // uses that nobody noted: told as gates left open, and in all
	shut, stay                                   int // and gates that were not noted as shut
}

// judge reads truth.json and told.json from each folder, and tells what was told and how it stands to what was so.
func judge(dirs []string, out io.Writer) error {
	var all tally
	for _, dir := range dirs {
		var so truth
		var say told
		if err := readJSON(filepath.Join(dir, "truth.json"), &so); err != nil {
			return err
		}
		if err := readJSON(filepath.Join(dir, "told.json"), &say); err != nil {
			return err
		}
		fmt.Fprintf(out, "%s, law %d, faults %+v\n", dir, so.Law, so.Faults)
		all.lives++
		all.sizes(&so, &say, out)
		all.findings(&so, &say, out)
	}
	n := float64(max(all.days, 1))
	fmt.Fprintf(out, "\n%d lives, %d days: leakage off by %.2f m3/h r.m.s., %.2f of what is stated, held %.3f; filter off by %.2f %%, %.2f of what is stated\n",
		all.lives, all.days, math.Sqrt(all.leak2/n), math.Sqrt(all.leakZ2/n), float64(all.held)/n, 100*math.Sqrt(all.filter2/n), math.Sqrt(all.filterZ2/n))
	fmt.Fprintf(out, "told wrongly: %d; faults told: %d of %d; first place right %d of %d, stated with 0.9 or more %d, of them right %d; unnoted uses told %d of %d, and %d of %d gates that were not noted as shut\n",
		all.wrong, all.told, all.faults, all.right, all.places, all.bold, all.boldRight, all.found, all.hidden, all.shut, all.stay)
	return nil
}

func readJSON(file string, into any) error {
	b, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	return json.Unmarshal(b, into)
}

// sizes holds each day's leakage and filter resistance against the truth. The filter's is a ratio to the baseline's, which is
// taken from the first five days that are told.
func (t *tally) sizes(so *truth, say *told, out io.Writer) {
	truths := map[string]truthDay{}
	for _, d := range so.Days {
		truths[d.Date] = d
	}
	scale, n := 0.0, 0.0
	var days, held, filter2, leak2 float64
	for _, c := range say.Collectors {
		for _, d := range c.Days {
			x, ok := truths[d.Date]
			if !ok || d.Filter == nil || d.Leak == nil || d.LeakSD == nil || *d.LeakSD == 0 {
				continue
			}
			if n < 5 {
				scale += (math.Log(*d.Filter/x.Filter) - scale) / (n + 1)
				n++
				continue
			}
			off := math.Log(*d.Filter/x.Filter) - scale
			z := off / (*d.FilterSD / *d.Filter)
			leak := *d.Leak*3600 - x.Leak
			zl := leak / (*d.LeakSD * 3600)
			t.days++
			t.leak2, t.leakZ2 = t.leak2+leak*leak, t.leakZ2+zl*zl
			t.filter2, t.filterZ2 = t.filter2+off*off, t.filterZ2+z*z
			days, filter2, leak2 = days+1, filter2+off*off, leak2+leak*leak
			if math.Abs(zl) < 1.645 {
				t.held++
				held++
			}
		}
	}
	fmt.Fprintf(out, "  %.0f days: leakage off by %.2f m3/h r.m.s., held %.2f; filter off by %.2f %%\n", days, math.Sqrt(leak2/days), held/days, 100*math.Sqrt(filter2/days))
}

// findings tells each and whether it is right.
func (t *tally) findings(so *truth, say *told, out io.Writer) {
	seen := map[int]bool{}
	t.faults += len(so.Faults)
	for _, d := range so.Days {
		t.hidden, t.stay = t.hidden+d.Hidden, t.stay+d.Stays
	}
	for _, c := range say.Collectors {
		for _, f := range c.Findings {
			on := func(count func(truthDay) int) bool {
				return slices.ContainsFunc(so.Days, func(d truthDay) bool { return d.Date == f.Raised[:10] && count(d) > 0 })
			}
			if f.Kind == "gate-found-shut" && on(func(d truthDay) int { return d.Stays }) {
				t.shut++
				continue
			}
			if f.Priority == "journal" || slices.Contains(usual, f.Kind) {
				continue
			}
			if f.Kind == "gate-left-open" && on(func(d truthDay) int { return d.Hidden }) {
				t.found++
				continue
			}
			i := slices.IndexFunc(so.Faults, func(x fault) bool {
				return slices.Contains(meets[x.Kind], f.Kind) && f.Raised[:10] >= so.Days[x.Day].Date
			})
			verdict := "WRONG"
			if i >= 0 {
				x := so.Faults[i]
				verdict = fmt.Sprintf("right, %d days after", daysBetween(so, x.Day, f.Raised[:10]))
				if !seen[i] {
					t.told++
					t.place(&f, x)
				}
				seen[i] = true
			} else {
				t.wrong++
			}
			k, unit := 1.0, f.Unit
			if unit == "m3/s" {
				k, unit = 3600, "m3/h"
			}
			fmt.Fprintf(out, "  %s: %s %s of %.3g %s (%.3g to %.3g), raised %s, since %.10s, ended %.10s %s\n", verdict, f.Kind, f.Subject,
				k*f.Size, unit, k*f.SizeLow, k*f.SizeHigh, f.Raised[:10], f.Onset, f.Ended, where(f.Where))
		}
	}
	for i, x := range so.Faults {
		if !seen[i] {
			fmt.Fprintf(out, "  NOT TOLD: %+v\n", x)
		}
	}
}

// undrawnTrunk is where a leak is told in a trunk that is not drawn.
const undrawnTrunk = "run:trunk (not drawn)"

func (t *tally) place(f *finding, x fault) {
	if x.Kind != "leak" || len(f.Where) == 0 || f.Where[0].Part == "other" { // which is no place
		return
	}
	first := f.Where[0]
	right := slices.ContainsFunc(append(first.Members, first.Part), func(part string) bool {
		return part == x.Part || part == undrawnTrunk && strings.HasPrefix(x.Part, "run:")
	})
	t.places++
	if right {
		t.right++
	}
	if first.Probability >= 0.9 {
		t.bold++
		if right {
			t.boldRight++
		}
	}
}

func daysBetween(so *truth, from int, date string) int {
	for i := from; i < len(so.Days); i++ {
		if so.Days[i].Date >= date {
			return i - from
		}
	}
	return len(so.Days) - from
}

func where(places []place) string {
	var out []string
	for _, p := range places[:min(len(places), 2)] {
		name := p.Part
		if len(p.Members) > 1 {
			name += fmt.Sprintf(" or %d more", len(p.Members)-1)
		}
		out = append(out, fmt.Sprintf("%s %.2f", name, p.Probability))
	}
	return strings.Join(out, ", ")
}
