package diagnosis

import (
	"strings"

	"ductward/internal/caution"
	"ductward/internal/finding"
)

// Action says what to do, safest first: the first look, and before anything is opened to lock out the fan. It is about what
// is named by it; "" where nobody knows what.
func (r Row) Action(it string) string {
	if it == "" {
		it = r.It
	}
	text := r.Check
	if r.Then != "" {
		if r.Opens {
			text += " " + caution.LockOut.Text
		}
		text += " " + r.Then
	}
	return strings.ReplaceAll(text, "{it}", it)
}

// Words are the causes in their order, without what they show and how they are told apart.
func (r Row) Words() []string {
	var out []string
	for _, c := range r.Causes {
		out = append(out, c.Text)
	}
	return out
}

// Others are the causes behind the first: what a finding may be confused with.
func (r Row) Others() []string {
	words := r.Words()
	return words[min(1, len(words)):]
}

// Advice is a row as other programs read it. Keys are added, never renamed.
type Advice struct {
	Causes   []Cause  `json:"causes"` // likeliest first, where nothing else is known
	Waits    string   `json:"if_it_waits"`
	Clears   string   `json:"clears"`
	Cautions []string `json:"cautions"`
}

// For returns the advice for a kind of finding.
func For(k finding.Kind) Advice {
	r := Of(k)
	a := Advice{Causes: r.Causes, Waits: r.Waits, Clears: r.Clears, Cautions: []string{}}
	if a.Causes == nil {
		a.Causes = []Cause{}
	}
	for _, c := range r.Cautions {
		a.Cautions = append(a.Cautions, c.Text)
	}
	return a
}
