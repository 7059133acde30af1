package checkpoint_test

import (
	"encoding/binary"
	"math"
	"reflect"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"

	"ductward/internal/checkpoint"
)

// part and kind are fixed: a state points at them and does not own them.
type part struct {
	Name string
	Kind *kind
}

type kind struct{ Name string }

type fixedParts struct {
	Parts []*part
	Zone  *time.Location
	ByKey map[string]*kind
}

func newParts() *fixedParts {
	k := &kind{"elbow"}
	return &fixedParts{Parts: []*part{{"a", k}, {"b", k}}, Zone: time.FixedZone("shop", 7200), ByKey: map[string]*kind{"x": {"wye"}}}
}

type shared struct{ n int }

type number int16

// state has one of everything that can be written.
type state struct {
	yes        bool
	small      number
	plain      uint8
	big        uint64
	x          float64
	name, same string
	list       [2]int
	none       []float64
	empty      []float64
	some, view []float64
	rows       [][]float64
	byName     map[string]shared
	same1      map[string]int
	same2      map[string]int
	no         map[string]int
	one, two   *shared
	nobody     *shared
	byNumber   map[int]*shared
	self       *state
	at         time.Time
	times      map[string]time.Time
	first      *part
	wye        *kind
	matrix     *mat.SymDense
	scratch    []float64 `checkpoint:"-"`
}

func newState(f *fixedParts) *state {
	s := &state{yes: true, small: -300, plain: 255, big: math.MaxUint64, x: math.Copysign(0, -1), name: "saw", same: "saw", list: [2]int{7, -8},
		empty: []float64{}, some: []float64{math.NaN(), math.Inf(1), 3}, rows: [][]float64{{1}, nil, {}},
		byName: map[string]shared{"b": {2}, "a": {1}}, same1: map[string]int{"k": 1}, one: &shared{5},
		at: time.Date(2026, 3, 2, 7, 0, 0, 5, f.Zone), first: f.Parts[1], wye: f.ByKey["x"], matrix: mat.NewSymDense(2, []float64{1, 2, 2, 9}),
		scratch: []float64{1}}
	s.two, s.same2, s.view, s.self = s.one, s.same1, s.some, s
	s.byNumber = map[int]*shared{-1: s.one, 3: {6}}
	s.times = map[string]time.Time{"utc": time.Unix(1, 0).UTC(), "zero": {}, "far": time.Unix(9, 0).In(time.FixedZone("far", -3600))}
	return s
}

func write(t testing.TB, s any, f *fixedParts) []byte {
	t.Helper()
	data, err := checkpoint.Write(s, checkpoint.NewFixed(f))
	require.NoError(t, err)
	return data
}

func TestWhatIsWrittenComesBack(t *testing.T) {
	f, again := newParts(), newParts()
	was := newState(f)
	data := write(t, was, f)
	var got state
	require.NoError(t, checkpoint.Read(data, &got, checkpoint.NewFixed(again)))

	assert.Equal(t, data, write(t, &got, again), "the same state gives the same bytes")
	assert.Equal(t, data, write(t, newState(f), f), "wherever it lies")
	assert.Equal(t, []any{true, number(-300), uint8(255), uint64(math.MaxUint64)}, []any{got.yes, got.small, got.plain, got.big})
	assert.True(t, math.Signbit(got.x) && got.x == 0, "to the bit")
	assert.Equal(t, "saw saw", got.name+" "+got.same)
	assert.Equal(t, was.list, got.list)
	assert.True(t, got.none == nil && got.empty != nil && len(got.empty) == 0, "nothing and an empty list are two things")
	assert.True(t, math.IsNaN(got.some[0]) && math.IsInf(got.some[1], 1))
	assert.Equal(t, was.rows, got.rows)
	assert.Equal(t, was.byName, got.byName)
	assert.Nil(t, got.no)
	assert.Nil(t, got.nobody)
	assert.True(t, was.at.Equal(got.at) && got.at.Location() == again.Zone, "in the zone that is fixed")
	assert.True(t, got.times["zero"].IsZero() && got.times["utc"].Location() == time.UTC)
	assert.Equal(t, was.times["far"].String(), got.times["far"].String())
	assert.Same(t, again.Parts[1], got.first, "what is fixed is the one there is")
	assert.Same(t, again.ByKey["x"], got.wye)
	assert.True(t, mat.Equal(was.matrix, got.matrix))
	assert.Nil(t, got.scratch, "left alone")
}

func TestWhatIsSharedStaysShared(t *testing.T) {
	f := newParts()
	var got state
	require.NoError(t, checkpoint.Read(write(t, newState(f), f), &got, checkpoint.NewFixed(f)))
	assert.Same(t, got.one, got.two)
	assert.Same(t, got.one, got.byNumber[-1])
	assert.Same(t, &got, got.self)
	got.some[2], got.same1["k"] = 4, 2
	assert.Equal(t, 4.0, got.view[2])
	assert.Equal(t, 2, got.same2["k"])
}

func TestWhatIsThereIsFilled(t *testing.T) {
	f := newParts()
	mine, other := &shared{1}, &shared{2}
	into := state{one: mine, self: &state{}, scratch: []float64{8}, byNumber: map[int]*shared{9: other}}
	require.NoError(t, checkpoint.Read(write(t, newState(f), f), &into, checkpoint.NewFixed(f)))
	assert.Same(t, mine, into.one)
	assert.Equal(t, 5, mine.n)
	assert.Equal(t, []float64{8}, into.scratch, "left alone")
	assert.NotContains(t, into.byNumber, 9, "maps are made anew")
}

func TestWhatCannotBeWrittenIsAnErrorThatSaysWhere(t *testing.T) {
	type deep struct {
		In []map[string]struct{ Do func() }
	}
	element := []shared{{1}, {2}}
	for name, c := range map[string]struct {
		state any
		want  string
	}{
		"a function":         {&deep{In: []map[string]struct{ Do func() }{{"k": {}}}}, "checkpoint_test.deep.In[0][k].Do: a func() cannot"},
		"an interface":       {&struct{ Err error }{}, ".Err: a error cannot"},
		"a channel":          {&struct{ C chan int }{}, ".C: a chan int cannot"},
		"keys without order": {&struct{ M map[[2]int]int }{map[[2]int]int{}}, "have no order"},
		"no pointer":         {state{}, "a pointer to the state"},
		"an element of a list": {&struct {
			All []shared
			One *shared
		}{element, &element[1]}, "in the midst of"},
		"lists that overlap": {&struct{ A, B []shared }{element, element[:1]}, "in the midst of"},
	} {
		_, err := checkpoint.Write(c.state, nil)
		assert.ErrorContains(t, err, c.want, name)
	}
}

// TestDamageIsFoundOrHarmless: whatever becomes of the bytes, reading ends, without a panic and without more memory than
// they can ask for.
func TestDamageIsFoundOrHarmless(t *testing.T) {
	f := newParts()
	data := write(t, newState(f), f)
	for i := range data {
		for _, b := range []byte{0, 1, data[i] + 1, 0x7f, 0xff} {
			bad := append([]byte(nil), data...)
			bad[i] = b
			var into state
			_ = checkpoint.Read(bad, &into, checkpoint.NewFixed(f)) // it may be another state
		}
		var into state
		assert.ErrorIs(t, checkpoint.Read(data[:i], &into, checkpoint.NewFixed(f)), checkpoint.ErrDamaged, "cut after %d bytes", i)
	}
	var into state
	assert.ErrorIs(t, checkpoint.Read(append(data[:len(data):len(data)], 0), &into, checkpoint.NewFixed(f)), checkpoint.ErrDamaged)
	assert.ErrorIs(t, checkpoint.Read(binary.AppendUvarint([]byte{1}, 1<<40), &[]uint64{}, nil), checkpoint.ErrDamaged)
	assert.ErrorContains(t, checkpoint.Read(data, into, nil), "a pointer to the state")
}

// TestEveryFieldIsReached: nothing of a state is forgotten unless its tag says so.
func TestEveryFieldIsReached(t *testing.T) {
	f := newParts()
	was := newState(f)
	var got state
	require.NoError(t, checkpoint.Read(write(t, was, f), &got, checkpoint.NewFixed(f)))
	for i := range reflect.TypeFor[state]().NumField() {
		field := reflect.TypeFor[state]().Field(i)
		if field.Tag.Get("checkpoint") == "-" {
			continue
		}
		a, b := reflect.ValueOf(was).Elem().Field(i), reflect.ValueOf(got).Field(i)
		assert.Equal(t, a.IsZero(), b.IsZero(), field.Name)
	}
}

func FuzzRead(f *testing.F) {
	parts := newParts()
	data, err := checkpoint.Write(newState(parts), checkpoint.NewFixed(parts))
	require.NoError(f, err)
	f.Add(data)
	f.Fuzz(func(t *testing.T, data []byte) {
		var into state
		if checkpoint.Read(data, &into, checkpoint.NewFixed(parts)) == nil {
			_, err := checkpoint.Write(&into, checkpoint.NewFixed(parts))
			require.NoError(t, err, "what can be read can be written")
		}
	})
}
