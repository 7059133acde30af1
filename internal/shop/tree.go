package shop

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	yaml "github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

// Bounds on what is read. A shop of a hundred machines has about 180 kB, 20 000 words and marks and a depth of 8.
const (
	maxBytes = 1 << 20 // of a file
	maxDepth = 24      // of lists and keys within each other
	maxNodes = 50_000  // values, those repeated by aliases counted again
	maxMarks = 60_000  // words and marks before they are parsed
	maxKeys  = 1000    // keys of one mapping: the parser's work grows with their square
)

// shape says what a value of the file is.
type shape int

const (
	nothing shape = iota // an empty value
	unread               // something that is reported already
	scalar
	list
	mapping
)

// value is one value of the file with the place where it stands.
type value struct {
	shape  shape
	line   int
	column int
	text   string // of a scalar, as it was meant
	items  []*value
	pairs  []pair
}

// pair is one key of a mapping with its value.
type pair struct{ key, value *value }

// tree reads YAML into values. It reports the first error of syntax: what stands behind it cannot be told.
func (r *reader) tree(data []byte) *value {
	if len(data) > maxBytes {
		r.problem(1, 1, fmt.Sprintf("the file has %d bytes, the limit is %d", len(data), maxBytes), "describe one shop, without recordings")
		return nil
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))             // a byte-order mark, as some editors write it
	data = bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n")) // the parser would count some lines twice
	if i := invalidByte(data); i >= 0 {
		line, column := position(data, i)
		r.problem(line, column, "the file is not UTF-8 text", "save it as UTF-8")
		return nil
	}
	tokens, ok := r.tokens(data)
	if !ok {
		return nil
	}
	file, err := parse(tokens)
	if err != nil {
		r.syntax(err)
		return nil
	}
	b := &builder{reader: r, anchors: map[string]*value{}}
	return b.document(file)
}

// invalidByte returns the offset of the first byte that is not UTF-8 text, -1 if there is none.
func invalidByte(data []byte) int {
	for i := 0; i < len(data); {
		c, n := utf8.DecodeRune(data[i:])
		if c == utf8.RuneError && n <= 1 || c < ' ' && c != '\n' && c != '\r' && c != '\t' || c == 0x7f {
			return i
		}
		i += n
	}
	return -1
}

func position(data []byte, offset int) (line, column int) {
	before := string(data[:offset])
	return 1 + strings.Count(before, "\n"), 1 + utf8.RuneCountInString(before[strings.LastIndexByte(before, '\n')+1:])
}

// tokens cuts the text, and refuses what is nested too deeply or too long before the recursive parser sees it.
func (r *reader) tokens(data []byte) (token.Tokens, bool) {
	tokens := lexer.Tokenize(string(data))
	if len(tokens) > maxMarks {
		r.problem(1, 1, fmt.Sprintf("the file has %d words and marks, the limit is %d", len(tokens), maxMarks), "describe one shop, without recordings")
		return nil, false
	}
	n := nesting{keys: map[int]int{}}
	for _, t := range tokens {
		if text := n.step(t); text != "" {
			r.problem(t.Position.Line, t.Position.Column, text, "lay the file out as in the example shop")
			return nil, false
		}
	}
	return tokens, true
}

// nesting follows how deep the tokens of a file are nested. Block nesting costs at least one column a level, or one
// mark on the same line, so that these bound it; flow nesting is counted.
type nesting struct {
	flow, marks, line int
	keys              map[int]int // by column: keys so far of the block mapping that stands there
}

// step takes the next token and tells what is too much, "" if nothing is.
func (n *nesting) step(t *token.Token) string {
	const maxColumn = 100
	if t.Position.Line != n.line {
		n.line, n.marks = t.Position.Line, 0
	}
	column := t.Position.Column
	switch t.Type {
	case token.SequenceStartType, token.MappingStartType:
		n.flow++
	case token.SequenceEndType, token.MappingEndType:
		n.flow--
	case token.SequenceEntryType, token.MappingKeyType, token.AnchorType, token.TagType:
		n.marks++
		n.leave(column)
	case token.MappingValueType:
		if n.flow == 0 && t.Prev != nil {
			column = t.Prev.Position.Column
			n.leave(column)
			n.keys[column]++
		}
	}
	switch {
	case n.flow > maxDepth || n.marks > maxDepth || t.Type == token.MappingValueType && n.flow == 0 && column > maxColumn:
		return "lists and keys are nested too deeply"
	case n.keys[column] > maxKeys:
		return fmt.Sprintf("there are more than %d keys in one place", maxKeys)
	}
	return ""
}

// leave forgets the mappings that stand further right: a token at the column has ended them.
func (n *nesting) leave(column int) {
	for c := range n.keys {
		if c > column {
			delete(n.keys, c)
		}
	}
}

// parse calls the YAML parser, and turns a panic in it into an error: it is not ours, and a strange file must not
// stop the watch.
func parse(tokens token.Tokens) (file *ast.File, err error) {
	defer func() {
		if p := recover(); p != nil {
			file, err = nil, fmt.Errorf("the file cannot be read as YAML: %v", p)
		}
	}()
	return parser.Parse(tokens, 0, parser.AllowDuplicateMapKey())
}

// syntax reports an error of the YAML parser at its place.
func (r *reader) syntax(err error) {
	line, column, text := 1, 1, err.Error()
	var e yaml.Error
	if errors.As(err, &e) && e.GetToken() != nil {
		line, column, text = e.GetToken().Position.Line, e.GetToken().Position.Column, e.GetMessage()
	}
	want := "check the indentation, the colons with a space behind them, and quotes around text with : # or brackets in it"
	if strings.Contains(text, "'\t'") {
		text, want = "a tab stands where the line is indented", "indent with spaces"
	}
	r.problem(line, column, "this is not YAML: "+strings.TrimSpace(text), want)
}
