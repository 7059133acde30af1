package letter

import (
	"fmt"
	"strings"
	"time"

	"ductward/internal/caution"
	"ductward/internal/outbox"
)

// OfTest composes a letter that asks whether letters arrive. No two have one identity.
func OfTest(o Origin, by string) outbox.Letter {
	who := ""
	if by != "" {
		who = " " + by + " asked for it."
	}
	return outbox.Letter{ID: fmt.Sprintf("test.%d.%d", o.Boot, o.At.UnixNano()), Kind: outbox.Test, Shop: o.Shop, At: o.At, Boot: o.Boot,
		Subject: o.Shop + ": test", Text: fmt.Sprintf("This is a test: letters of the dust watch of %s arrive here.%s Nothing is to be done.\n", o.Shop, who)}
}

// Alive is what the daily sign of life tells.
type Alive struct {
	Since    time.Time // of this start; zero: not known
	Next     time.Time // when the next sign is due
	Standing int       // alarms
	Sensors  int
	Faulty   int // of them, without readings
}

// OfHeartbeat composes the daily sign of life. Two of one due moment are the same letter.
func OfHeartbeat(o Origin, due time.Time, a Alive) outbox.Letter {
	text := fmt.Sprintf("The dust watch of %s is running since %s. %s; %d of %d sensors yield no reading.\n\nThe next sign of life comes %s. If it does not, the watch, its board or the way to you has failed: nothing would be told.\n",
		o.Shop, o.moment(a.Since), standing(a.Standing), a.Faulty, a.Sensors, o.moment(a.Next))
	return outbox.Letter{ID: "heartbeat." + due.UTC().Format("20060102T150405Z"), Kind: outbox.Heartbeat, Shop: o.Shop, At: o.At, Boot: o.Boot,
		Subject: o.Shop + ": the dust watch is running", Text: text}
}

func standing(n int) string {
	switch n {
	case 0:
		return "No alarm stands"
	case 1:
		return "1 alarm stands"
	}
	return fmt.Sprintf("%d alarms stand", n)
}

// Week is what the weekly digest tells; each line is a sentence.
type Week struct {
	From, To time.Time
	Changed  []string // what was found
	Filter   []string // when it must be cleaned
	Leakage  []string
	Done     []string // by people
	Standing []string // alarms
	Checks   []string // that are due or overdue
	Failed   []string // letters that were not delivered
	Head     string   // of the logbook's chain; "": it has no entries
	Entries  uint64
}

// OfWeek composes the weekly digest. Two of one due moment are the same letter.
func OfWeek(o Origin, due time.Time, w Week) outbox.Letter {
	var b strings.Builder
	fmt.Fprintf(&b, "The dust watch of %s, from %s to %s.\n\n", o.Shop, o.moment(w.From), o.moment(w.To))
	for _, s := range []struct {
		title, none string
		lines       []string
	}{
		{"Alarms that stand", "None.", w.Standing},
		{"What changed", "Nothing that was found.", w.Changed},
		{"Filter", "No forecast yet.", w.Filter},
		{"Leakage", "Nothing is known yet.", w.Leakage},
		{"What was done", "Nothing was written down.", w.Done},
		{"Checks due", "None.", w.Checks},
		{"Not delivered", "Everything arrived.", w.Failed},
	} {
		b.WriteString(s.title + "\n")
		if len(s.lines) == 0 {
			s.lines = []string{s.none}
		}
		for _, line := range s.lines {
			b.WriteString("- " + strings.Join(strings.Fields(line), " ") + "\n")
		}
		b.WriteString("\n")
	}
	if w.Head != "" {
		fmt.Fprintf(&b, "Logbook\n- %d entries; the head of their chain is %s\n- Keep this letter: with it \"ductward verify --head\" shows whether an entry up to here was changed or taken out since. It does not show whether an entry was true, nor what was changed before this letter.\n\n", w.Entries, w.Head)
	}
	b.WriteString(caution.NoInstrument.Text + "\n")
	return outbox.Letter{ID: "week." + due.UTC().Format("20060102T150405Z"), Kind: outbox.Digest, Shop: o.Shop, At: o.At, Boot: o.Boot, Head: w.Head,
		Subject: fmt.Sprintf("%s: the week to %s", o.Shop, w.To.In(zoneOf(o)).Format("2 January")), Text: b.String()}
}

func zoneOf(o Origin) *time.Location {
	if o.Zone == nil {
		return time.UTC
	}
	return o.Zone
}
