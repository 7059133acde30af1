package bound

import (
	"slices"
	"strings"

	"ductward/internal/shop"
)

// find returns the place of a change, -1 if there is none.
func (r *Response) find(k Kind, part string) int {
	return slices.IndexFunc(r.Changes, func(c Change) bool { return c.Kind == k && c.Part == part })
}

// Find returns the place of a change among Changes, -1 if there is none.
func (r *Response) Find(k Kind, part string) int { return r.find(k, part) }

// Of lists the changes that a choice holds for.
func (r *Response) Of(choice func(Change) bool) []int {
	var out []int
	for i, c := range r.Changes {
		if choice(c) {
			out = append(out, i)
		}
	}
	return out
}

// Only returns the response with some of the channels, in their order, and of the air what is listed.
func (r *Response) Only(keep func(Channel) bool, measured map[shop.Quantity]bool) *Response {
	out := &Response{Noise: r.Noise, Measured: measured}
	var at []int
	for c, ch := range r.Channels {
		if keep(ch) {
			at = append(at, c)
			out.Channels = append(out.Channels, ch)
		}
	}
	var kept []int
	for k, ch := range r.Changes {
		if ch.Kind != Scale || slices.ContainsFunc(out.Channels, func(c Channel) bool { return c.Name == ch.Part && !c.Virtual }) {
			kept = append(kept, k)
			out.Changes = append(out.Changes, ch)
		}
	}
	for i := range r.Sets {
		out.Sets = append(out.Sets, r.Sets[i].only(at, kept))
	}
	return out
}

func (s *Set) only(at, kept []int) Set {
	out := Set{Closed: s.Closed, Suction: s.Suction, Hoods: s.Hoods, Mean: picked(s.Mean, at), Filter: picked(s.Filter, at),
		Density: picked(s.Density, at), Speed: picked(s.Speed, at), Common: picked(s.Common, at),
		Scatter: picked(s.Scatter, at), Zero: picked(s.Zero, at), By: pickedBoth(s.By, at, kept)}
	for _, row := range s.Built {
		out.Built = append(out.Built, picked(row, at))
	}
	for _, o := range s.Otherwise {
		out.Otherwise = append(out.Otherwise, pickedBoth(o, at, kept))
	}
	return out
}

func picked[T any](x []T, at []int) []T {
	out := make([]T, len(at))
	for i, k := range at {
		out[i] = x[k]
	}
	return out
}

func pickedBoth(x [][]float64, at, kept []int) [][]float64 {
	out := make([][]float64, len(at))
	for i, k := range at {
		out[i] = picked(x[k], kept)
	}
	return out
}

// openWords names what is open in a setting, in a fixed order.
func openWords(s shop.Setting) string {
	var names []string
	for g, open := range s.Open {
		if open {
			names = append(names, g)
		}
	}
	for sel, port := range s.Port {
		if port > 0 {
			names = append(names, sel)
		}
	}
	if len(names) == 0 {
		return "none"
	}
	slices.Sort(names)
	return strings.Join(names, ", ")
}
