package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Error says what is wrong with a written quantity and what to write instead.
type Error struct {
	Text string // what was wrong, without what it was meant for: `"160" has no unit`
	Want string // what to write instead
}

// Error joins both halves.
func (e *Error) Error() string {
	if e.Want == "" {
		return e.Text
	}
	return e.Text + "; " + e.Want
}

// largest is the largest magnitude in SI units that is taken for a quantity of a workshop. The largest honest numbers
// are times (ten years are 3·10⁸ s); anything beyond is a slip of the pen, and would drown what it is added to.
const largest = 1e9

// longest is the longest text, in bytes, that is looked at.
const longest = 100

// Parse reads a quantity of the given kind, such as "160 mm", and returns it in SI units. The number is decimal, with
// a point, an exponent of at most two digits, and spaces between groups of three digits if wanted. A number without a
// unit, a unit of another kind, a decimal comma, NaN, Inf, hexadecimal and numbers beyond 10⁹ SI units are refused
// with an *Error.
func Parse(kind Kind, s string) (float64, error) {
	if !kind.valid() {
		return 0, &Error{Text: fmt.Sprintf("kind %d of quantity is not known", int(kind))}
	}
	s = tidy(s)
	if s == "" || len(s) > longest {
		return 0, &Error{Text: fmt.Sprintf("%s is not %s", brief(s), kind), Want: accepted(kind)}
	}
	number, rest, err := splitNumber(kind, s)
	if err != nil {
		return 0, err
	}
	if rest == "" {
		return 0, &Error{Text: s + " has no unit", Want: acceptedFor(kind, number)}
	}
	u, err := lookup(kind, number, rest)
	if err != nil {
		return 0, err
	}
	v, err := strconv.ParseFloat(strings.ReplaceAll(number, " ", ""), 64)
	si := v*u.factor + u.offset
	if err != nil || math.Abs(v) > largest || math.Abs(si) > largest {
		return 0, &Error{Text: s + " is beyond anything that can be built", Want: "write " + kind.String() + " such as " + strconv.Quote(kind.Example())}
	}
	return si, nil
}

// ParseUnit returns the conversion from a unit of the given kind to SI, or an *Error that lists what is accepted.
func ParseUnit(kind Kind, name string) (func(float64) float64, error) {
	u, err := unitOf(kind, name)
	if err != nil {
		return nil, err
	}
	return func(v float64) float64 { return v*u.factor + u.offset }, nil
}

// FromSI converts an SI number to the unit, or returns an *Error that lists what is accepted.
func FromSI(kind Kind, name string, v float64) (float64, error) {
	u, err := unitOf(kind, name)
	if err != nil {
		return math.NaN(), err
	}
	return (v - u.offset) / u.factor, nil
}

// SpreadFromSI converts the spread of an SI number (a difference, so no offset applies) to the unit.
func SpreadFromSI(kind Kind, name string, sd float64) (float64, error) {
	u, err := unitOf(kind, name)
	if err != nil {
		return math.NaN(), err
	}
	return sd / u.factor, nil
}

// KindOf tells which kind accepts the unit. Per cent is a Ratio.
func KindOf(name string) (Kind, bool) {
	name = tidy(name)
	for k := range units {
		if _, ok := find(Kind(k), name); ok {
			return Kind(k), true
		}
	}
	return 0, false
}

func unitOf(kind Kind, name string) (unit, error) {
	if !kind.valid() {
		return unit{}, &Error{Text: fmt.Sprintf("kind %d of quantity is not known", int(kind))}
	}
	name = tidy(name)
	if len(name) > longest || name == "" {
		return unit{}, &Error{Text: fmt.Sprintf("%s is not a unit of %s", brief(name), kind), Want: "write one of " + strings.Join(Units(kind), ", ")}
	}
	return lookup(kind, "", name)
}

// lookup finds the unit or explains what is wrong with it. The number is used for the suggestion only.
func lookup(kind Kind, number, name string) (unit, error) {
	if u, ok := find(kind, name); ok {
		return u, nil
	}
	whole := strings.TrimSpace(number + " " + name)
	for _, u := range units[kind] {
		for _, n := range append([]string{u.name}, u.aliases...) {
			if strings.EqualFold(n, name) {
				return unit{}, &Error{Text: fmt.Sprintf("%s has no known unit", whole),
					Want: fmt.Sprintf("did you mean %q?", strings.TrimSpace(number+" "+u.name))}
			}
		}
	}
	if other, ok := KindOf(name); ok {
		return unit{}, &Error{Text: fmt.Sprintf("%s is %s, not %s", whole, other, kind), Want: accepted(kind)}
	}
	return unit{}, &Error{Text: fmt.Sprintf("%s has the unknown unit %q", whole, name), Want: acceptedFor(kind, number)}
}

func accepted(kind Kind) string {
	return fmt.Sprintf("write one of %s, such as %q", strings.Join(Units(kind), ", "), kind.Example())
}

// acceptedFor suggests the number that was written with the kind's usual unit.
func acceptedFor(kind Kind, number string) string {
	if number == "" {
		return accepted(kind)
	}
	return fmt.Sprintf("write one of %s, such as %q", strings.Join(Units(kind), ", "), number+" "+units[kind][0].name)
}

// splitNumber cuts a decimal number off the front. What is left is the unit.
func splitNumber(kind Kind, s string) (number, rest string, err error) {
	n := numberLength(s)
	number, rest = s[:n], strings.TrimSpace(s[n:])
	if n == 0 {
		return "", "", &Error{Text: fmt.Sprintf("%s is not %s", brief(s), kind), Want: accepted(kind)}
	}
	switch {
	case strings.HasPrefix(s[n:], ","):
		return "", "", &Error{Text: brief(s) + " has a comma in its number",
			Want: fmt.Sprintf("write a point for decimals and nothing between thousands, such as %q", kind.Example())}
	case strings.HasPrefix(s[n:], ".") || strings.HasPrefix(s[n:], "_") || digits(rest) > 0 && !strings.HasPrefix(rest, "1/"):
		return "", "", &Error{Text: brief(s) + " does not hold one number and one unit", Want: accepted(kind)}
	case strings.HasPrefix(s[n:], "x") || strings.HasPrefix(s[n:], "X"):
		return "", "", &Error{Text: brief(s) + " is not a decimal number", Want: accepted(kind)}
	}
	return number, rest, nil
}

// numberLength is the length of the decimal number at the front of s, 0 if there is none: a sign, digits (in groups
// of three with single spaces, where the first group has at most three), a fraction, an exponent of one or two digits.
func numberLength(s string) int {
	i := 0
	if i < len(s) && (s[i] == '+' || s[i] == '-') {
		i++
	}
	lead := digits(s[i:])
	i += lead
	if lead >= 1 && lead <= 3 {
		for i < len(s) && s[i] == ' ' && digits(s[i+1:]) == 3 {
			i += 4
		}
	}
	fraction := 0
	if i < len(s) && s[i] == '.' {
		if fraction = digits(s[i+1:]); fraction > 0 || lead > 0 {
			i += 1 + fraction
		}
	}
	if lead+fraction == 0 {
		return 0
	}
	return i + exponentLength(s[i:])
}

// exponentLength is the length of an exponent such as "e-6" at the front of s, 0 if there is none.
func exponentLength(s string) int {
	if len(s) < 2 || s[0] != 'e' && s[0] != 'E' {
		return 0
	}
	i := 1
	if s[i] == '+' || s[i] == '-' {
		i++
	}
	if n := digits(s[i:]); n >= 1 && n <= 3 {
		return i + n
	}
	return 0
}

func digits(s string) int {
	n := 0
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	return n
}

// tidy makes typographic characters plain: kinds of space, the minus sign and raised figures.
func tidy(s string) string {
	if len(s) > 4*longest {
		s = s[:4*longest]
	}
	return strings.TrimSpace(plain.Replace(s))
}

var plain = strings.NewReplacer("\u00a0", " ", "\u202f", " ", "\u2009", " ", "\t", " ", "−", "-", "²", "2", "³", "3")

// brief quotes a text and cuts it when it is long.
func brief(s string) string {
	const most = 40
	r := []rune(s)
	if len(r) > most {
		return strconv.Quote(string(r[:most])) + "…"
	}
	return strconv.Quote(s)
}
