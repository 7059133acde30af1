package shop

import (
	"fmt"
	"slices"
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
