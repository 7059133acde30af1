package main

import (
	"io"
	"os"

	"github.com/cheggaaa/pb/v3"
)

// progress is a bar on a terminal and nothing in a pipe or a file.
type progress struct{ bar *pb.ProgressBar }

// barTemplate shows what goes on, how far it is, and how long it may still take.
const barTemplate = `{{string . "what"}} {{bar . }} {{percent . }} {{rtime . "%s left" "%s" ""}}`

// newProgress starts a bar of total steps on w. A total of 0 means that the length is not known: no bar is drawn.
func newProgress(w io.Writer, what string, total int64) *progress {
	if !isTerminal(w) || total <= 0 {
		return &progress{}
	}
	bar := pb.New64(total).SetTemplateString(barTemplate).Set("what", what).SetWriter(w)
	return &progress{bar: bar.Start()}
}

// set moves the bar to n steps.
func (p *progress) set(n int64) {
	if p.bar != nil {
		p.bar.SetCurrent(n)
	}
}

// reader counts the bytes that are read through it.
func (p *progress) reader(r io.Reader) io.Reader {
	if p.bar == nil {
		return r
	}
	return p.bar.NewProxyReader(r)
}

// finish ends the bar. Once is enough, and more does no harm.
func (p *progress) finish() {
	if p.bar != nil {
		p.bar.Finish()
		p.bar = nil
	}
}

// isTerminal tells whether w is a character device, which is where a person watches.
func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

// size returns a file's length in bytes, 0 where it is not known.
func size(f *os.File) int64 {
	info, err := f.Stat()
	if err != nil || !info.Mode().IsRegular() {
		return 0
	}
	return info.Size()
}
