package shop

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Check is something that somebody looks at again and again.
type Check struct {
	Name         string
	Days, Months int    // between two; one of them is 0
	AskedBy      string // the rule or person that asks for it, in the owner's words
	Line         int
}

// After returns when it is to be done again after a moment.
func (c *Check) After(t time.Time) time.Time { return t.AddDate(0, c.Months, c.Days) }

// checks reads what is to be checked, and how often.
func (r *reader) checks(o *object) (out []Check) {
	named := newRegister()
	for _, v := range o.entries("checks") {
		k := r.object(v, "check", "check")
		c := Check{Name: k.name("check", "hoses and earth wires"), AskedBy: k.word("asked_by"), Line: v.line}
		if c.Name != "" {
			named.add(k, k.get("check"), "check", c.Name, nil)
		}
		k.require("every", "every: day, week, month or year, or as \"14 months\"")
		if every := k.word("every"); every != "" {
			var ok bool
			if c.Days, c.Months, ok = period(every); !ok {
				k.wrong(k.get("every"), fmt.Sprintf("every %s is not a time between two checks", shown(every)), "write day, week, month or year, or as \"14 months\", of at most ten years")
			}
		}
		k.close()
		out = append(out, c)
	}
	return out
}

// period reads "week" and "14 months".
func period(text string) (days, months int, ok bool) {
	n := 1
	words := strings.Fields(text)
	if len(words) == 2 {
		var err error
		if n, err = strconv.Atoi(words[0]); err != nil || n < 1 {
			return 0, 0, false
		}
		words = words[1:]
	}
	if len(words) != 1 || n > 3660 {
		return 0, 0, false
	}
	switch strings.TrimSuffix(words[0], "s") {
	case "day":
		days = n
	case "week":
		days = 7 * n
	case "month":
		months = n
	case "year":
		months = 12 * n
	}
	return days, months, days+months > 0 && days <= 3660 && months <= 120
}
