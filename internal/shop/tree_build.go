package shop

import (
	"fmt"

	"github.com/goccy/go-yaml/ast"
)

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
