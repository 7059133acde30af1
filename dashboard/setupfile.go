package dashboard

import (
	"strings"

	"ductward/internal/shop"
)

// shopFile is the shop file as it was read.
type shopFile struct {
	Path     string
	Sentence string
	Warnings []fileNote
	Lines    []fileLine
	Cut      bool // it is too long to be shown whole
}

// fileNote is one warning with its line.
type fileNote struct {
	Line int
	Text string
}

// fileLine is one line of the file.
type fileLine struct {
	Number int
	Text   string
	Noted  bool
}

// mostFile is how many bytes of a shop file one page shows. Of a longer one the lines with warnings are shown.
const mostFile = 48 << 10

// readShopFile reads the warnings out of the text that the shop was read from: the same text gives the same ones.
func readShopFile(sh *shop.Shop) shopFile {
	f := shopFile{Path: sh.Path}
	if len(sh.Raw) == 0 {
		f.Sentence = "The text of the shop file is not at hand."
		return f
	}
	_, problems := shop.Parse(sh.Path, sh.Raw)
	noted := map[int]bool{}
	for _, p := range problems {
		text := p.Text
		if p.Want != "" {
			text += "; " + p.Want
		}
		f.Warnings = append(f.Warnings, fileNote{p.Line, text})
		noted[p.Line] = true
	}
	f.Cut = len(sh.Raw) > mostFile
	for i, line := range strings.Split(strings.TrimRight(string(sh.Raw), "\n"), "\n") {
		if n := i + 1; !f.Cut || noted[n] {
			f.Lines = append(f.Lines, fileLine{n, strings.TrimRight(line, "\r"), noted[n]})
		}
	}
	f.Sentence = "The shop file was read without a warning."
	if n := len(f.Warnings); n > 0 {
		f.Sentence = "The shop file was read with " + count(n, "warning") + "."
	}
	return f
}
