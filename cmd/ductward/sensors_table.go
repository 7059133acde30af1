package main

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"

	"ductward/hardware/live"
	"ductward/internal/quantity"
	"ductward/internal/shop"
)

// shownIn says in which unit a kind of quantity is shown, and with how many decimals.
var shownIn = map[quantity.Kind]struct {
	unit     string
	decimals int
}{
	quantity.Pressure:    {"Pa", 1},
	quantity.Temperature: {"degC", 1},
	quantity.Humidity:    {"%", 1},
	quantity.Power:       {"kW", 2},
	quantity.Frequency:   {"rpm", 0},
	quantity.Mass:        {"kg", 1},
}

// writeSensors writes the table, how the fans stand, and what is to be said about single rows.
func writeSensors(w io.Writer, s *shop.Shop, watch *live.Watch, rows []live.Row) error {
	for _, c := range s.Collectors {
		fmt.Fprintf(w, "collector %s: the fan is %s\n", c.Name, fanWords(watch.Fan(c.Name)))
	}
	fmt.Fprintln(w)
	t := &table{heads: []string{"channel", "value", "<unit", "noise", "zero", "raw", "<health"}}
	for _, r := range rows {
		t.add(sensorCells(r)...)
	}
	if err := t.write(w); err != nil {
		return err
	}
	for _, r := range rows {
		if r.Health.Text != "" {
			fmt.Fprint(w, "\n"+paragraph(r.Channel+": "+withoutName(r)))
		}
	}
	return nil
}

// withoutName is a row's text without the channel's name in front, which a fault says itself.
func withoutName(r live.Row) string {
	prefix := r.Channel + ": "
	if len(r.Health.Text) > len(prefix) && r.Health.Text[:len(prefix)] == prefix {
		return r.Health.Text[len(prefix):]
	}
	return r.Health.Text
}

func fanWords(f live.Fan) string {
	if f == live.Unknown {
		return `not known to run or to stand (--fan on, --fan off)`
	}
	return f.String()
}

func sensorCells(r live.Row) []string {
	if r.Sensor == nil {
		return []string{r.Channel, positionWords(r), "", "", "", r.Raw, r.Health.Word}
	}
	kind := r.Sensor.Measures.Kind()
	in := shownIn[kind]
	value, _ := quantity.FromSI(kind, in.unit, r.Value)
	noise, _ := quantity.SpreadFromSI(kind, in.unit, r.Noise)
	return []string{r.Channel, cell(value, in.decimals), in.unit, cell(noise, in.decimals+1), cell(r.Zero, 1), r.Raw, r.Health.Word}
}

// positionWords says how a switch stands.
func positionWords(r live.Row) string {
	switch {
	case math.IsNaN(r.Value):
		return "–"
	case r.Port:
		return "port " + strconv.Itoa(int(r.Value))
	case r.Fan && r.Value != 0:
		return "running"
	case r.Fan:
		return "standing"
	case r.Value != 0:
		return "open"
	}
	return "shut"
}

// sensorsJSON is the shape of sensors --json. Keys may be added, never renamed.
type sensorsJSON struct {
	Collectors []fanJSON    `json:"collectors"`
	Sensors    []sensorJSON `json:"sensors"`
}

type fanJSON struct {
	Name string `json:"name"`
	Fan  string `json:"fan"`
}

type sensorJSON struct {
	Channel string `json:"channel"`
	Where   word   `json:"where"`
	Raw     word   `json:"raw"`
	Unit    word   `json:"unit"`
	Value   number `json:"value"`
	Mean    number `json:"mean"`
	Noise   number `json:"noise"`
	Samples int    `json:"samples"`
	Zero    number `json:"zero"`
	Zeros   int    `json:"zero_samples"`
	State   string `json:"state"`
	Health  string `json:"health"`
	Text    word   `json:"text"`
}

func writeSensorsJSON(w io.Writer, s *shop.Shop, watch *live.Watch, rows []live.Row) error {
	out := sensorsJSON{Sensors: []sensorJSON{}}
	for _, c := range s.Collectors {
		out.Collectors = append(out.Collectors, fanJSON{c.Name, watch.Fan(c.Name).String()})
	}
	for _, r := range rows {
		out.Sensors = append(out.Sensors, sensorJSON{r.Channel, word(r.Where), word(r.Raw), word(r.Unit), number(r.Value), number(r.Mean),
			number(r.Noise), r.Samples, number(r.Zero), r.Zeros, string(r.Health.State), r.Health.Word, word(r.Health.Text)})
	}
	return json.NewEncoder(w).Encode(out)
}
