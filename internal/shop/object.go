package shop

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"ductward/internal/quantity"
)

// object reads the keys of one mapping. Every key that is asked for is known; close reports the others. A key that
// cannot be read is reported once and yields the default.
type object struct {
	*reader
	where string // such as `run "saw drop"`, for messages
	v     *value
	title string // the key whose value is the name in where
	asked []string
	used  map[string]bool
	void  bool // there was no mapping to read: missing keys are not reported on top
}

// object takes v as a mapping. where may end in a name that the mapping itself holds under the key title.
func (r *reader) object(v *value, where, title string) *object {
	o := &object{reader: r, where: where, v: v, used: map[string]bool{}}
	if v == nil || v.shape != mapping {
		o.void = true
		if v != nil && v.shape != unread {
			r.problem(v.line, v.column, fmt.Sprintf("%s: %s where keys are wanted", where, v), "write keys with their values, as in the example shop")
		}
		o.v = &value{shape: mapping}
		return o
	}
	if p := v.pair(title); p != nil && p.value.shape == scalar {
		o.where, o.title = fmt.Sprintf("%s %q", where, cut(p.value.text)), title
	}
	seen := map[string]*value{}
	for _, p := range v.pairs {
		if first, ok := seen[p.key.text]; ok {
			r.problem(p.key.line, p.key.column, fmt.Sprintf("%s: key %s is given twice, first in line %d", o.where, shown(p.key.text), first.line), "keep one of them")
			continue
		}
		seen[p.key.text] = p.key
	}
	return o
}

// pair finds a key of a mapping, nil if it is not given.
func (v *value) pair(key string) *pair {
	for i := range v.pairs {
		if v.pairs[i].key.text == key {
			return &v.pairs[i]
		}
	}
	return nil
}

func cut(s string) string {
	if r := []rune(s); len(r) > maxName {
		return string(r[:maxName])
	}
	return s
}

// String tells what a value is, for messages.
func (v *value) String() string {
	switch v.shape {
	case scalar:
		return shown(v.text)
	case list:
		return "a list"
	case mapping:
		return "a set of keys"
	}
	return "nothing"
}

// get returns the value of a key, nil if it is not given. A key without a value counts as not given and is reported.
func (o *object) get(key string) *value {
	o.asked = append(o.asked, key)
	p := o.v.pair(key)
	if p == nil {
		return nil
	}
	first := !o.used[key]
	o.used[key] = true
	switch {
	case p.value.shape == unread:
		return nil
	case p.value.shape == nothing && first:
		o.problem(p.key.line, p.key.column, fmt.Sprintf("%s: %s has no value", o.where, key), "give it one, or leave the key out")
		return nil
	case p.value.shape == nothing:
		return nil
	}
	return p.value
}

// has tells whether a key is given.
func (o *object) has(key string) bool { return o.get(key) != nil }

// require reports a key that is missing, unless a misspelt one stands in its place, which close reports.
func (o *object) require(key, example string) {
	if o.void || o.used[key] || slices.ContainsFunc(o.v.pairs, func(p pair) bool {
		return !o.used[p.key.text] && nearest(p.key.text, []string{key}) != ""
	}) {
		return
	}
	o.problem(o.v.line, o.v.column, fmt.Sprintf("%s: %s is missing", o.where, key), "write "+example)
}

// close reports the keys that nobody asked for.
func (o *object) close() {
	for _, p := range o.v.pairs {
		if !o.used[p.key.text] {
			o.used[p.key.text] = true
			o.problem(p.key.line, p.key.column, fmt.Sprintf("%s: unknown key %s", o.where, shown(p.key.text)), choose(p.key.text, unique(o.asked)))
		}
	}
}

func unique(words []string) []string {
	var out []string
	seen := map[string]bool{}
	for _, w := range words {
		if !seen[w] {
			seen[w] = true
			out = append(out, w)
		}
	}
	return out
}

// wrong reports a value of the object.
func (o *object) wrong(v *value, text, want string) {
	o.problem(v.line, v.column, o.where+": "+text, want)
}

// word returns the text of a key, "" if it is not given.
func (o *object) word(key string) string {
	v := o.get(key)
	if v == nil {
		return ""
	}
	if v.shape != scalar {
		o.wrong(v, fmt.Sprintf("%s is %s", key, v), "write one text")
		return ""
	}
	if len(v.text) > maxText {
		o.wrong(v, fmt.Sprintf("%s has %d bytes, the limit is %d", key, len(v.text), maxText), "shorten it")
		return ""
	}
	return v.text
}

// oneOf returns the index of the key's word among the choices, -1 if it is not given or not among them.
func (o *object) oneOf(key string, choices []string) int {
	w := o.word(key)
	if w == "" {
		return -1
	}
	for i, c := range choices {
		if c == w {
			return i
		}
	}
	o.wrong(o.get(key), fmt.Sprintf("%s %s is not known", key, shown(w)), choose(w, choices))
	return -1
}

// flag returns a yes or no, false if it is not given.
func (o *object) flag(key string) bool {
	switch w := o.word(key); strings.ToLower(w) {
	case "yes", "true":
		return true
	case "no", "false", "":
	default:
		o.wrong(o.get(key), fmt.Sprintf("%s %s is neither yes nor no", key, shown(w)), "write yes or no")
	}
	return false
}

// count returns a whole number within bounds, otherwise the default.
func (o *object) count(key string, least, most, otherwise int) int {
	w := o.word(key)
	if w == "" {
		return otherwise
	}
	n, err := strconv.Atoi(w)
	if err != nil || n < least || n > most {
		o.wrong(o.get(key), fmt.Sprintf("%s %s is not a whole number from %d to %d", key, shown(w), least, most), "")
		return otherwise
	}
	return n
}

// number returns a pure number within bounds, otherwise the default.
func (o *object) number(key string, least, most, otherwise float64) float64 {
	w := o.word(key)
	if w == "" {
		return otherwise
	}
	x, ok := pure(w)
	if !ok {
		o.wrong(o.get(key), fmt.Sprintf("%s %s is not a plain number", key, shown(w)), fmt.Sprintf("write a number without a unit from %g to %g", least, most))
		return otherwise
	}
	if x < least || x > most {
		o.wrong(o.get(key), fmt.Sprintf("%s %s is not between %g and %g", key, w, least, most), "")
		return otherwise
	}
	return x
}

// pure reads a decimal number without a unit. NaN, Inf and hexadecimal are not numbers here.
func pure(s string) (float64, bool) {
	if s == "" || len(s) > 40 || strings.Trim(s, "0123456789+-.eE") != "" {
		return 0, false
	}
	x, err := strconv.ParseFloat(s, 64)
	return x, err == nil
}

// quantity returns a quantity within its limit in SI units, otherwise the default.
func (o *object) quantity(key string, l limit, otherwise float64) float64 {
	v := o.get(key)
	if v == nil {
		return otherwise
	}
	if v.shape != scalar {
		o.wrong(v, fmt.Sprintf("%s is %s", key, v), fmt.Sprintf("write %s such as %q", l.kind, l.kind.Example()))
		return otherwise
	}
	x, ok := o.inLimit(v, key, l)
	if !ok {
		return otherwise
	}
	return x
}

// inLimit reads one scalar as a quantity.
func (o *object) inLimit(v *value, key string, l limit) (float64, bool) {
	x, err := quantity.Parse(l.kind, v.text)
	if err != nil {
		var e *quantity.Error
		if errors.As(err, &e) {
			o.wrong(v, key+" "+e.Text, l.advice(v.text, e.Want))
		} else {
			o.wrong(v, key+": "+err.Error(), "")
		}
		return math.NaN(), false
	}
	if text := l.breach(x); text != "" {
		o.wrong(v, fmt.Sprintf("%s %s %s", key, v.text, text), l.instead(v.text, x))
		return math.NaN(), false
	}
	return x, true
}

// list returns the items of a list, none if the key is not given. A single value stands for a list of one.
func (o *object) list(key string) []*value {
	v := o.get(key)
	switch {
	case v == nil:
		return nil
	case v.shape == list:
		return v.items
	case v.shape == scalar:
		return []*value{v}
	}
	o.wrong(v, fmt.Sprintf("%s is %s", key, v), `write a list: each entry on its own line behind "- "`)
	return nil
}

// entries returns the items of a list of mappings.
func (o *object) entries(key string) []*value {
	v := o.get(key)
	if v == nil {
		return nil
	}
	if v.shape != list {
		o.wrong(v, fmt.Sprintf("%s is %s where a list is wanted", key, v), `write each entry on its own line behind "- "`)
		return nil
	}
	return v.items
}
