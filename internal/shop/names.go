package shop

import (
	"fmt"
	"strings"
	"unicode"
)

const (
	maxName = 60   // letters of a name
	maxText = 1000 // bytes of any other text
)

// reserved names have a meaning of their own in channel names, part names or places.
var reserved = map[string]string{
	"inlet": "the collector's inlet", "fan": "the fan", "gate": "the channels of gates", "selector": "the channels of selectors",
	"contact":   "the channels of contacts",
	"collector": "the collector", "none": "no place", "several": "more than one place", "other": "another place",
}

// name returns the name under a key, "" if it is missing or cannot be used.
func (o *object) name(key, example string) string {
	w := o.word(key)
	if w == "" {
		o.require(key, fmt.Sprintf("%s: %s", key, example))
		return ""
	}
	if !o.goodName(o.get(key), key, w) {
		return ""
	}
	return w
}

// goodName reports a name that would break the names made of it: "collector/sensor", "run:NAME", "selector=port",
// lists parted by commas, topics.
func (o *object) goodName(v *value, key, w string) bool {
	if len([]rune(w)) > maxName {
		o.misnamed(v, key, fmt.Sprintf("%s %s has %d letters, the limit is %d", key, shown(w), len([]rune(w)), maxName), "shorten it")
		return false
	}
	if bad := strings.IndexFunc(w, func(c rune) bool {
		return !unicode.IsLetter(c) && !unicode.IsDigit(c) && c != ' ' && c != '-' && c != '_'
	}); bad >= 0 || strings.TrimSpace(w) != w || strings.Contains(w, "  ") {
		o.misnamed(v, key, fmt.Sprintf("%s %s cannot be a name", key, shown(w)), "use letters, digits, single spaces, - and _")
		return false
	}
	if is, ok := reserved[strings.ToLower(w)]; ok {
		o.misnamed(v, key, fmt.Sprintf("%s %s stands for %s", key, shown(w), is), "take another name")
		return false
	}
	return true
}

// misnamed reports a name. Where it is the part's own, it is not said twice.
func (o *object) misnamed(v *value, key, text, want string) {
	if key == o.title || o.where == "" {
		o.problem(v.line, v.column, text, want)
		return
	}
	o.wrong(v, text, want)
}

// was returns the earlier names of a part.
func (o *object) was() []string {
	var names []string
	for _, v := range o.list("was") {
		if v.shape != scalar {
			o.wrong(v, fmt.Sprintf("was holds %s", v), "write earlier names")
			continue
		}
		if o.goodName(v, "was", v.text) {
			names = append(names, v.text)
		}
	}
	return names
}

// register holds the names of one namespace, so that no two parts share one. Names that differ only in case count as
// one: they would be mistaken for each other by people.
type register struct{ taken map[string]taken }

type taken struct {
	what string // such as `run "saw drop"`
	line int
	old  bool // an earlier name
}

func newRegister() *register { return &register{taken: map[string]taken{}} }

// add takes a name and its earlier names.
func (g *register) add(o *object, v *value, kind, name string, was []string) {
	if name == "" {
		return
	}
	g.take(o, v, taken{fmt.Sprintf("%s %q", kind, name), v.line, false}, name)
	for _, w := range was {
		g.take(o, o.get("was"), taken{fmt.Sprintf("%s %q (was)", kind, name), v.line, true}, w)
	}
}

func (g *register) take(o *object, v *value, t taken, name string) {
	key := strings.ToLower(name)
	first, ok := g.taken[key]
	if !ok {
		g.taken[key] = t
		return
	}
	text := fmt.Sprintf("the name %q is taken by the %s in line %d", name, first.what, first.line)
	want := "give each its own name"
	if t.old || first.old {
		text = fmt.Sprintf("the earlier name %q is that of the %s in line %d", name, first.what, first.line)
		want = "a part keeps its history by its name: take another name for the newer part"
	}
	o.wrong(v, text, want)
}
