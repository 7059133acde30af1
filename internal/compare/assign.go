package compare

import (
	"fmt"
	"strings"

	"ductward/internal/shop"
)

// NameError is what is wrong with the names of a set that was asked for.
type NameError struct{ err error }

func (e *NameError) Error() string { return e.err.Error() }

func (e *NameError) Unwrap() error { return e.err }

// Assign gives each name of a set to the pair of collectors of which one knows it. "COLLECTOR/NAME" says which, by
// either name of the collector.
func Assign(pairs [][2]*shop.Collector, names []string) ([][]string, error) {
	out := make([][]string, len(pairs))
	for _, n := range names {
		n = strings.TrimSpace(n)
		if n == "" {
			continue
		}
		var owners []string
		var last error
		for i, p := range pairs {
			local, err := known(p, n)
			if err != nil {
				last = err
				continue
			}
			out[i] = append(out[i], local)
			owners = append(owners, p[1].Name)
		}
		switch {
		case len(owners) == 0:
			return nil, &NameError{last}
		case len(owners) > 1:
			return nil, &NameError{fmt.Errorf("%q: collectors %s all have one; write %q", n, strings.Join(owners, ", "), owners[0]+"/"+n)}
		}
	}
	return out, nil
}

// known is a name without its collector's, if either drawing knows it.
func known(pair [2]*shop.Collector, name string) (string, error) {
	for _, c := range pair {
		name = strings.TrimPrefix(name, c.Name+"/")
	}
	_, err := pair[1].SettingFor([]string{name})
	if err != nil {
		_, err = pair[0].SettingFor([]string{name})
	}
	return name, err
}
