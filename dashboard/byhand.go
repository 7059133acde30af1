package dashboard

import (
	"errors"
	"fmt"
	"math"
	"net/http"
	"strconv"

	"ductward/internal/reading"
	"ductward/internal/shop"
)

// handRow is one thing whose position a person tells.
type handRow struct {
	Channel, Name, Is string
	Choices           []handChoice
}

// handChoice is one position that it can have.
type handChoice struct {
	Value, Word string
	Now         bool
}

// notKnown is the value that says so in a form; JSON says null.
const notKnown = "unknown"

// handRows lists what the shop file tells by hand, with where it stands as far as is known.
func (s *server) handRows() []handRow {
	if s.Positions == nil {
		return nil
	}
	latest := s.Readings.Latest()
	var out []handRow
	add := func(src *shop.Source, name, channel string, words ...string) {
		if src != nil && src.Kind == shop.SourceByHand {
			out = append(out, newHandRow(name, channel, latest, words))
		}
	}
	for _, c := range s.Shop.Collectors {
		add(c.FanSwitch, "fan of "+c.Name, c.Name+"/fan", "off", "on")
		for _, g := range c.Gates {
			add(g.Position, g.Name, "gate/"+g.Name, "shut", "open")
		}
		for _, l := range c.Selectors {
			add(l.Position, l.Name, "selector/"+l.Name, append([]string{"none"}, l.Ports...)...)
		}
	}
	return out
}

// newHandRow makes the row; words are what the positions 0, 1, 2, … are called.
func newHandRow(name, channel string, latest map[string]reading.Reading, words []string) handRow {
	r := handRow{Channel: channel, Name: name, Is: "not known"}
	last, ok := latest[channel]
	for i, w := range words {
		now := ok && last.Value == float64(i)
		if now {
			r.Is = w
		}
		r.Choices = append(r.Choices, handChoice{strconv.Itoa(i), w, now})
	}
	r.Choices = append(r.Choices, handChoice{notKnown, "not known", r.Is == "not known"})
	return r
}

// setPosition takes where a person says that something stands.
func (s *server) setPosition(w http.ResponseWriter, r *http.Request) {
	channel, v, err := readPosition(r)
	if err == nil && s.handRow(channel) == nil {
		err = fmt.Errorf("channel %q is not one that is set by hand: the ducts page lists those that are", channel)
	}
	if err == nil {
		err = s.Positions.SetByHand(channel, v)
	}
	if err != nil {
		status := http.StatusBadRequest
		if errors.Is(err, ErrNotStored) {
			status = http.StatusServiceUnavailable
		}
		s.fail(w, r, status, err.Error())
		return
	}
	if isForm(r) {
		back := "/ducts#by-hand"
		if r.PostForm.Get("page") == "hunt" {
			back = "/hunt"
		}
		http.Redirect(w, r, back, http.StatusSeeOther)
		return
	}
	writeJSON(w, http.StatusOK, map[string]any{"channel": channel, "value": num(v)})
}

// readPosition takes the channel and the position from a form or from JSON.
func readPosition(r *http.Request) (string, float64, error) {
	if !isForm(r) {
		var in struct {
			Channel string   `json:"channel"`
			Value   *float64 `json:"value"`
		}
		if err := readJSON(r, &in); err != nil || in.Value == nil {
			return in.Channel, math.NaN(), err
		}
		return in.Channel, *in.Value, nil
	}
	if err := r.ParseForm(); err != nil {
		return "", 0, fmt.Errorf("the form could not be read: send it again, in at most %d bytes", maxBody)
	}
	text := r.PostForm.Get("value")
	if text == notKnown {
		return r.PostForm.Get("channel"), math.NaN(), nil
	}
	v, err := strconv.Atoi(text)
	if err != nil {
		return "", 0, fmt.Errorf("value %q is not a position: 0 is shut, 1 is open, %q is not known", text, notKnown)
	}
	return r.PostForm.Get("channel"), float64(v), nil
}

// handRow finds what is set by hand by its channel.
func (s *server) handRow(channel string) *handRow {
	for _, r := range s.handRows() {
		if r.Channel == channel {
			return &r
		}
	}
	return nil
}
