package shop

import (
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
	maxMarks = 60_000  // words and marks before they are parsed: the parser's work grows with the square of a mapping's keys
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

// tokens cuts the text and refuses what is nested too deeply, before the recursive parser sees it. Block nesting
// costs at least one column a level, so that the column of a token bounds it; flow nesting is counted.
func (r *reader) tokens(data []byte) (token.Tokens, bool) {
	const maxColumn = 100
	tokens := lexer.Tokenize(string(data))
	if len(tokens) > maxMarks {
		r.problem(1, 1, fmt.Sprintf("the file has %d words and marks, the limit is %d", len(tokens), maxMarks), "describe one shop, without recordings")
		return nil, false
	}
	flow, entries, line := 0, 0, 0
	for _, t := range tokens {
		if t.Position.Line != line {
			line, entries = t.Position.Line, 0
		}
		switch t.Type {
		case token.SequenceStartType, token.MappingStartType:
			flow++
		case token.SequenceEndType, token.MappingEndType:
			flow--
		case token.SequenceEntryType, token.MappingKeyType, token.AnchorType, token.TagType:
			entries++
		}
		deep := flow > maxDepth || entries > maxDepth ||
			t.Type == token.MappingValueType && flow == 0 && t.Position.IndentNum > maxColumn
		if deep {
			r.problem(t.Position.Line, t.Position.Column, "lists and keys are nested too deeply", "lay the file out as in the example shop")
			return nil, false
		}
	}
	return tokens, true
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

// builder makes values of the parser's tree.
type builder struct {
	*reader
	anchors map[string]*value // nil while the anchored value is being built
	nodes   int
	full    bool
}

func (b *builder) document(file *ast.File) *value {
	var root *value
	for _, d := range file.Docs {
		if d.Body == nil {
			continue
		}
		if root != nil {
			v := at(d.Body)
			b.problem(v.line, v.column, "the file holds a second document", `write one shop in a file, without a second "---"`)
			break
		}
		root = b.build(d.Body, 0)
	}
	if root == nil || root.shape == nothing {
		if !b.failed() {
			b.problem(1, 1, "the file is empty", `begin with "shop:" and the shop's name`)
		}
		return nil
	}
	return root
}

// at makes an empty value at the node's place.
func at(n ast.Node) *value {
	v := &value{line: 1, column: 1}
	if t := n.GetToken(); t != nil && t.Position != nil {
		v.line, v.column = t.Position.Line, t.Position.Column
	}
	return v
}

// build turns a node into a value. Aliases share the value of their anchor; how often values are repeated is bounded.
func (b *builder) build(n ast.Node, depth int) *value {
	v := at(n)
	if !b.count(v, 1, depth) {
		v.shape = unread
		return v
	}
	switch n := n.(type) {
	case *ast.NullNode:
		return v
	case *ast.MappingNode:
		return b.mapping(v, n.Values, depth)
	case *ast.MappingValueNode:
		return b.mapping(v, []*ast.MappingValueNode{n}, depth)
	case *ast.SequenceNode:
		return b.list(v, n, depth)
	case *ast.AnchorNode:
		return b.anchor(v, n, depth)
	case *ast.AliasNode:
		return b.alias(v, n, depth)
	case *ast.TagNode:
		b.problem(v.line, v.column, fmt.Sprintf("%s is a type mark, which has no use here", shown(n.Start.Value)), "leave it out")
		v.shape = unread
	case *ast.StringNode:
		v.shape, v.text = scalar, n.Value
	case *ast.LiteralNode:
		v.shape, v.text = scalar, n.Value.Value
	default: // numbers, booleans, .inf and .nan: their text counts, and its meaning depends on the key
		v.shape, v.text = scalar, n.GetToken().Value
	}
	return v
}

// count adds values to the budget; when it is spent, that is told once and nothing more is built.
func (b *builder) count(v *value, n, depth int) bool {
	b.nodes += n
	if b.full || b.nodes <= maxNodes && depth <= maxDepth {
		return !b.full
	}
	b.full = true
	b.problem(v.line, v.column, fmt.Sprintf("the file holds more than %d values, or more than %d levels", maxNodes, maxDepth),
		"describe one shop, and repeat less with aliases")
	return false
}

func (b *builder) mapping(v *value, values []*ast.MappingValueNode, depth int) *value {
	v.shape = mapping
	for _, p := range values {
		key := at(p.Key)
		switch k := p.Key.(type) {
		case *ast.MergeKeyNode:
			b.problem(key.line, key.column, `"<<" merges keys, which is not read here`, "write the keys out")
			continue
		case *ast.StringNode:
			key.shape, key.text = scalar, k.Value
		case *ast.MappingKeyNode, *ast.AnchorNode, *ast.AliasNode, *ast.TagNode:
			b.problem(key.line, key.column, "a key must be a plain word", "write it as in the example shop")
			continue
		default:
			key.shape, key.text = scalar, p.Key.GetToken().Value
		}
		v.pairs = append(v.pairs, pair{key, b.build(p.Value, depth+1)})
	}
	if len(v.pairs) > 0 && v.pairs[0].key.line < v.line || len(v.pairs) > 0 && v.pairs[0].key.column < v.column {
		v.line, v.column = v.pairs[0].key.line, v.pairs[0].key.column
	}
	return v
}

func (b *builder) list(v *value, n *ast.SequenceNode, depth int) *value {
	v.shape = list
	for _, item := range n.Values {
		v.items = append(v.items, b.build(item, depth+1))
	}
	return v
}

func (b *builder) anchor(v *value, n *ast.AnchorNode, depth int) *value {
	name := n.Name.GetToken().Value
	b.anchors[name] = nil
	built := b.build(n.Value, depth+1)
	b.anchors[name] = built
	return built
}

func (b *builder) alias(v *value, n *ast.AliasNode, depth int) *value {
	name := n.Value.GetToken().Value
	target, known := b.anchors[name]
	v.shape = unread
	switch {
	case !known:
		b.problem(v.line, v.column, fmt.Sprintf("alias *%s has no anchor before it", name), fmt.Sprintf("mark the value meant with &%s above this line", name))
		return v
	case target == nil:
		b.problem(v.line, v.column, fmt.Sprintf("alias *%s stands within its own anchor", name), "write the value out")
		return v
	case !b.count(v, target.size(maxNodes), depth+target.depth(maxDepth)):
		return v
	}
	return target
}

// size counts the values in v, those of aliases again, and stops counting behind the limit.
func (v *value) size(limit int) int {
	n := 1
	for _, i := range v.items {
		if n > limit {
			return n
		}
		n += i.size(limit - n)
	}
	for _, p := range v.pairs {
		if n > limit {
			return n
		}
		n += p.value.size(limit - n)
	}
	return n
}

// depth counts the levels in v, and stops behind the limit.
func (v *value) depth(limit int) int {
	deepest := 0
	if limit < 0 {
		return 0
	}
	for _, i := range v.items {
		deepest = max(deepest, 1+i.depth(limit-1))
	}
	for _, p := range v.pairs {
		deepest = max(deepest, 1+p.value.depth(limit-1))
	}
	return deepest
}
