package diagnosis

import (
	"go/ast"
	"go/parser"
	"go/token"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"ductward/internal/caution"
	"ductward/internal/finding"
)

// kinds reads every kind of finding from where they are defined.
func kinds(t *testing.T) []finding.Kind {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), "../finding/finding.go", nil, 0)
	require.NoError(t, err)
	var out []finding.Kind
	ast.Inspect(file, func(n ast.Node) bool {
		v, ok := n.(*ast.ValueSpec)
		if !ok {
			return true
		}
		if typ, ok := v.Type.(*ast.Ident); !ok || typ.Name != "Kind" {
			return true
		}
		text, err := strconv.Unquote(v.Values[0].(*ast.BasicLit).Value)
		require.NoError(t, err)
		out = append(out, finding.Kind(text))
		return true
	})
	require.Greater(t, len(out), 20)
	return out
}

// What asks something of a person says all of it; nothing may claim that a place is safe.
func TestEveryKindHasItsRow(t *testing.T) {
	of := kinds(t)
	assert.Len(t, table, len(of), "no row for what does not exist")
	for _, k := range of {
		r, ok := table[k]
		if !assert.True(t, ok, "no row for %s", k) {
			continue
		}
		journal := k == finding.FilterCleaned || k == finding.LeakMended
		assert.GreaterOrEqual(t, len(r.Causes), 2, "%s: one cause would be an assertion", k)
		assert.NotEmpty(t, r.Check, k)
		assert.NotEmpty(t, r.Cautions, k)
		assert.Equal(t, journal, r.Waits == "", "%s: what if it waits", k)
		assert.Equal(t, journal, r.Clears == "", "%s: when it clears", k)
		assert.Equal(t, caution.Authority, r.Cautions[len(r.Cautions)-1], "%s: the local code comes last", k)
		seen := map[string]bool{}
		for _, c := range r.Causes {
			assert.False(t, seen[c.Text], "%s: %s twice", k, c.Text)
			seen[c.Text] = true
			assert.NotEmpty(t, c.Told, c.Text)
		}
		for _, text := range []string{r.Action("it"), r.Waits, r.Clears} {
			assert.NotRegexp(t, `(?i)\bis safe\b|\{it\}| {2}`, text, k)
		}
		if strings.Contains(r.Check+r.Then, "{it}") {
			assert.NotEmpty(t, r.It, k)
		}
	}
}

// Whatever opens something names the lock-out before it, and stands beside its caution.
func TestNothingIsOpenedUnlocked(t *testing.T) {
	for k, r := range table {
		if !r.Opens {
			continue
		}
		text := r.Action("")
		lock := strings.Index(text, caution.LockOut.Text)
		assert.Positive(t, lock, k)
		assert.Greater(t, strings.Index(text, r.Then[:10]), lock, "%s: the lock-out comes first", k)
		assert.Contains(t, r.Cautions[:2], caution.LockOut, k)
	}
}

func TestAKindOfLaterHasItsCautions(t *testing.T) {
	a := For("a kind of later")
	assert.Empty(t, a.Causes)
	assert.Contains(t, a.Cautions[0], "lock out the fan")
	assert.Empty(t, Of("a kind of later").Action("saw"))
}

func TestSignsInWords(t *testing.T) {
	assert.Equal(t, "suction at the trunk down, velocity pressure down, filter drop up, suction over velocity pressure as before, suction at the far end down, fan power up",
		draws.String())
	assert.Empty(t, Signs{}.String())
}
