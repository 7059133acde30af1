package journal

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Hash is a link of the logbook's chain: SHA-256 over the link before it and the entry, so that it stands for the entry and
// for all before it, in their order. Whoever has kept one can tell later whether any of those was changed, taken out or put
// in between since. It does not tell whether an entry was true, nor anything of what came before it was kept.
type Hash [sha256.Size]byte

// String writes a hash as it is printed and sent.
func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// ParseHash reads a hash as String writes it; spaces in it are passed over.
func ParseHash(s string) (h Hash, err error) {
	text := strings.ToLower(strings.Join(strings.Fields(s), ""))
	b, err := hex.DecodeString(text)
	if err != nil || len(b) != len(h) {
		return h, fmt.Errorf("%q is not a head of the logbook's chain: that is %d figures from 0 to 9 and a to f", s, 2*len(h))
	}
	copy(h[:], b)
	return h, nil
}

// link returns what stands for an entry and all before it. Each field is written with its name and length, so that no two
// entries read alike; a field that is empty is left out, so that fields that come later change no older link.
func link(before Hash, number int, e *Entry) Hash {
	w := sha256.New()
	_, _ = w.Write([]byte("ductward logbook 1\n")) // a hash takes everything
	_, _ = w.Write(before[:])
	for _, f := range []struct{ name, value string }{
		{"number", strconv.Itoa(number)},
		{"time", e.Time.UTC().Format(time.RFC3339Nano)},
		{"kind", string(e.Kind)},
		{"subject", e.Subject},
		{"note", e.Note},
		{"by", e.By},
		{"corrects", plainNumber(e.Corrects)},
		{"result", string(e.Result)},
		{"action", e.Action},
		{"alarm", e.Alarm},
		{"event", e.Event},
	} {
		if f.value != "" {
			_, _ = fmt.Fprintf(w, "%s %d %s\n", f.name, len(f.value), f.value)
		}
	}
	return Hash(w.Sum(nil))
}

func plainNumber(n uint64) string {
	if n == 0 {
		return ""
	}
	return strconv.FormatUint(n, 10)
}

// Chain returns the link of each entry; the last one is the head. The entries are all that there are, in the order in which
// they were written.
func Chain(entries []Entry) []Hash {
	out := make([]Hash, len(entries))
	var h Hash
	for i := range entries {
		h = link(h, i+1, &entries[i])
		out[i] = h
	}
	return out
}

// Head returns the last link; the zero Hash where there is no entry.
func Head(entries []Entry) (h Hash) {
	if c := Chain(entries); len(c) > 0 {
		h = c[len(c)-1]
	}
	return h
}

// Holds returns up to which entry a head that was kept stands for the logbook as it is now, and whether it does at all.
func Holds(entries []Entry, head Hash) (number int, ok bool) {
	for i, h := range Chain(entries) {
		if h == head {
			return i + 1, true
		}
	}
	return 0, false
}

// InForce returns the entries that no later one corrects, in their order. A correction stands for what it corrects.
func InForce(entries []Entry) []Entry {
	gone := map[uint64]bool{}
	for i := range entries {
		if c := entries[i].Corrects; c > 0 && c <= uint64(i) {
			gone[c] = true
		}
	}
	if len(gone) == 0 {
		return entries
	}
	out := make([]Entry, 0, len(entries))
	for i := range entries {
		if !gone[uint64(i+1)] {
			out = append(out, entries[i])
		}
	}
	return out
}
