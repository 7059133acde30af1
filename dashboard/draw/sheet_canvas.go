package draw

import (
	"fmt"
	"html"
	"strings"
)

// sheet collects the elements of a Sheet, in layers: what surrounds the ducts, the ducts, the air in them, ink, letters.
type sheet struct {
	*Sheet
	p             *Picture
	scale         float64 // units of width for 1 m³/s
	left          float64 // where the rows' ducts begin
	cells         []float64
	width, height float64
	cuts          cuts
	branches      map[string]bool   // runs that are a wye's branch though they are drawn as the trunk
	short         map[string]string // by name: what stands for it
	taken         map[string]bool
	names         []string // the names that were shortened, with the whole of them
	layers        [4]strings.Builder
	letters       strings.Builder
	words         []textBox // where texts, channels and signs stand, to tell whether they can be read
	channels      []box
	marks         []box
	root          *limb
}

// signs are those that the key has to explain.
type signs struct{ shut, open, dust, leak, away, cap, ring, selector bool }

// The layers of a sheet, lowest first.
const (
	sheetWall = iota
	sheetBore
	sheetAir
	sheetInk
)

// textBox is where a text stands.
type textBox struct {
	box
	words string
}

// text sets words whose line begins at x, or ends there, or is centred on it.
func (k *sheet) text(x, y, size float64, anchor, class, words string) {
	if words == "" {
		return
	}
	w := textWidth(words, size, strings.Contains(class, "d-open") || strings.Contains(class, "d-short") || strings.Contains(class, "s-slow"))
	x0 := x
	switch anchor {
	case "end":
		x0 = x - w
	case "middle":
		x0 = x - w/2
	}
	k.words = append(k.words, textBox{box{x0, y - 0.8*size, x0 + w, y + 0.25*size}, words})
	fmt.Fprintf(&k.letters, `<text x="%.1f" y="%.1f" font-size="%.0f" text-anchor="%s" class="%s">%s</text>`, x, y, size, anchor, class, html.EscapeString(words))
}

// mark notes that a sign stands around a point.
func (k *sheet) mark(p point, w, h float64) {
	k.marks = append(k.marks, box{p.x - w, p.y - h, p.x + w, p.y + h})
}

// ink adds a path of signs.
func (k *sheet) ink(class, format string, args ...any) {
	fmt.Fprintf(&k.layers[sheetInk], `<path class="%s" d="%s"/>`, class, fmt.Sprintf(format, args...))
}

// line is a broken line, as path commands.
func line(at []point) string {
	var b strings.Builder
	for i, p := range at {
		verb := "L"
		if i == 0 {
			verb = "M"
		}
		fmt.Fprintf(&b, "%s%.1f %.1f", verb, p.x, p.y)
	}
	return b.String()
}

// finish puts the frame around everything. The size stands in it, so that the sheet can be wider than its page.
func (k *sheet) finish() string {
	var b strings.Builder
	space := ""
	if k.Alone { // within a page it goes without saying
		space = `xmlns="http://www.w3.org/2000/svg" `
	}
	fmt.Fprintf(&b, `<svg %sclass="drawing sheet" width="%.0f" height="%.0f" viewBox="0 0 %.0f %.0f" role="img" aria-label="%s">`,
		space, k.width, k.height, k.width, k.height, html.EscapeString(k.Title))
	if k.Alone {
		fmt.Fprintf(&b, `<title>%s</title><style>%s</style><rect width="%.0f" height="%.0f" class="d-paper"/>`, html.EscapeString(k.Title), sheetColours, k.width, k.height)
	}
	fmt.Fprintf(&b, `<defs><pattern id="%s" width="9" height="9" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect width="2.5" height="9" class="d-stripe"/></pattern></defs>`, k.hatchID())
	if k.Stale {
		fmt.Fprintf(&b, `<rect width="%.0f" height="%.0f" fill="url(#%s)"/>`, k.width, k.height, k.hatchID())
	}
	for i := range k.layers {
		b.WriteString(k.layers[i].String())
	}
	b.WriteString(k.letters.String())
	b.WriteString("</svg>\n")
	return b.String()
}

// hatchID names the hatching, so that each picture of a page has its own.
func (k *sheet) hatchID() string { return "hatch-sheet" + k.ID }

// sheetColours are those of a sheet that stands alone: the light ones of the pages, on white paper. Letters are dark
// enough for print, and no sign is told by its colour alone.
const sheetColours = `.drawing{font-family:system-ui,"Segoe UI","Noto Sans","DejaVu Sans",sans-serif;font-variant-numeric:tabular-nums}` +
	`path{fill:none;stroke-linejoin:round}text{fill:#1c1a17}.d-paper{fill:#fff}.d-stripe{fill:#827b6e;fill-opacity:.5}` +
	`.s-wall{stroke:#1c1a17}.s-bore{stroke:#e2ddd2}.s-air{stroke:#0a6464}.d-thin{stroke:#575249;stroke-width:2}` +
	`.d-away{stroke-dasharray:2 7;stroke-linecap:round}.d-bar{stroke:#1c1a17;stroke-width:5}.d-gate{stroke:#1c1a17;stroke-width:3}` +
	`.s-joint{stroke:#1c1a17;stroke-width:1.5}.s-need{stroke:#fff;stroke-dasharray:7 5}.s-dust{stroke:#fff;stroke-linecap:round;stroke-dasharray:.1 7}.s-dust-rim{stroke:#1c1a17;stroke-linecap:round;stroke-dasharray:.1 7}` +
	`path.d-leak{fill:#1c1a17;stroke:#fff;stroke-width:1}path.d-part,circle.d-part{fill:#fff;stroke:#1c1a17;stroke-width:2}` +
	`.d-wheel{fill:#fff}.d-runs{fill:#0a6464}.d-blade{stroke:#1c1a17;stroke-width:2.5;stroke-linecap:round}.d-runs+.d-blade{stroke:#fff}.d-tooth{stroke:#575249;stroke-width:1.5}` +
	`.s-arrow{stroke:#1c1a17;stroke-width:2}.s-frame{stroke:#a39c8f;stroke-width:1}.d-open{font-weight:700}.d-shut{fill:#575249}.d-short{fill:#942b19;font-weight:700}.s-slow{fill:#7d5200;font-weight:700}` +
	`@page{size:landscape;margin:10mm}@media print{svg{width:100vw;height:98vh}}`
