package shop

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
)

// Problem is one mistake in a shop file, or one thing in it that is allowed but worth a second look.
type Problem struct {
	File    string
	Line    int // from 1
	Column  int // from 1
	Text    string
	Want    string // what to write instead; may be ""
	Warning bool   // the file is accepted all the same
}

// Error gives the problem as "shop.yaml:41: run "saw drop": diameter 10 m is over the 1 m limit; did you mean ...".
func (p Problem) Error() string {
	s := fmt.Sprintf("%s:%d: ", p.File, p.Line)
	if p.Warning {
		s += "warning: "
	}
	s += p.Text
	if p.Want != "" {
		s += "; " + p.Want
	}
	return s
}

// Errors joins the problems that are not warnings into one error, nil if there are none.
func Errors(problems []Problem) error {
	var errs []error
	for _, p := range problems {
		if !p.Warning {
			errs = append(errs, p)
		}
	}
	return errors.Join(errs...)
}

// reader gathers the problems of one file.
type reader struct {
	file     string
	problems []Problem
}

// maxProblems is how many problems are kept: whoever has more has another kind of file.
const maxProblems = 500

func (r *reader) problem(line, column int, text, want string) {
	if len(r.problems) >= maxProblems {
		if len(r.problems) == maxProblems {
			r.problems = append(r.problems, Problem{File: r.file, Line: line, Column: column, Text: fmt.Sprintf("there are more than %d problems", maxProblems), Want: "mend these first"})
		}
		return
	}
	r.problems = append(r.problems, Problem{File: r.file, Line: line, Column: column, Text: text, Want: want})
}

func (r *reader) warn(line int, text, want string) {
	if len(r.problems) >= maxProblems {
		return
	}
	r.problems = append(r.problems, Problem{File: r.file, Line: line, Column: 1, Text: text, Want: want, Warning: true})
}

// failed tells whether there is a problem that is not a warning.
func (r *reader) failed() bool {
	return slices.ContainsFunc(r.problems, func(p Problem) bool { return !p.Warning })
}

// sorted returns the problems by their place in the file, without exact repeats.
func (r *reader) sorted() []Problem {
	slices.SortStableFunc(r.problems, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	return slices.Compact(r.problems)
}
